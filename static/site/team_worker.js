// Lets a team's pages open without network, where there is HTTPS. Runs are not its business: the page's own queue keeps
// them. The network comes first; what it gave last stands in when it is away. Pages of one team only, ever.

const PAGES = "helmroom-pages-5";
const FILES = "helmroom-files-4";
const TEAM = new URL("/team/of", location.origin).href;
const DOORS = ["/team/log/", "/team/mission/", "/team/course/", "/team/robot/"];
// What pages import by name; all else of a page is read off the page.
const MODULES = [
  ...["news", "queue", "recall", "sender", "tablet"].map((name) => `/static/site/${name}.js`),
  ...["checks", "course", "draft", "kept_runs", "log", "pad", "stopwatch"].map((name) => `/static/planning/team/${name}.js`),
  "/static/planning/preparing/preparing.js",
  "/static/classroom/robots/measure.js",
];

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (![PAGES, FILES].includes(name)) await caches.delete(name);
  await self.clients.claim();
  await stockUp();
})()));

// So that a page opens without network that has not been opened with it since the worker came.
async function stockUp() {
  const cache = await caches.open(PAGES);
  const files = await caches.open(FILES);
  for (const door of DOORS) {
    try {
      const response = await fetch(door, { credentials: "same-origin", headers: { "To-Keep": "1" } });
      if (response.ok && !response.redirected) await keep(cache, new Request(door), response);
    } catch { return; }
  }
  for (const module of MODULES) await files.add(module).catch(() => undefined);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(freshFirst(request, FILES));
  else if (request.mode === "navigate" && url.pathname.startsWith("/team/")) event.respondWith(page(request));
});

async function freshFirst(request, name) {
  try {
    const response = await fetch(request);
    if (response.ok) await put(await caches.open(name), request, response.clone());
    return response;
  } catch (error) {
    const kept = await (await caches.open(name)).match(request);
    if (kept) return kept;
    throw error;
  }
}

// A cupboard that is full keeps nothing more; what came is shown all the same.
async function put(cache, request, response) {
  await cache.put(request, response).catch(() => undefined);
}

async function page(request) {
  const cache = await caches.open(PAGES);
  try {
    const response = await fetch(request);
    if (response.ok && response.type === "basic") await keep(cache, request, response.clone());
    return response;
  } catch (error) {
    const kept = await cache.match(request) ?? await cache.match(request, { ignoreSearch: true });
    if (kept) return kept;
    throw error;
  }
}

// A page that belongs to no team (the door) or to another one empties the cupboard first.
async function keep(cache, request, response) {
  const text = await response.clone().text();
  const team = text.match(/data-team="(\d+)"/)?.[1] ?? "none";
  const before = await (await cache.match(TEAM))?.text();
  if (before !== team) {
    for (const old of await cache.keys()) await cache.delete(old);
    await put(cache, TEAM, new Response(team));
  }
  if (team === "none" || response.redirected || text.includes('id="waiting-page"')) return;
  // What is said once is not said again by a page that was kept.
  const silent = text.replace(/(<div id="messages"[^>]*>)[^]*?<\/div>/, "$1</div>");
  await put(cache, request, new Response(silent, { headers: response.headers }));
  const files = await caches.open(FILES);
  for (const [, file] of text.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)) {
    if (!(await files.match(file))) await files.add(file).catch(() => undefined);
  }
}
