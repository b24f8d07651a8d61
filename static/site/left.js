// Nobody is signed in on this tablet: the team's pages that were kept for times without network go. Runs that wait to be
// sent stay (static/site/queue.js); they name no child.
(async () => {
  if (!("caches" in window)) return;
  for (const name of await caches.keys()) if (name.startsWith("helmroom-pages")) await caches.delete(name);
})();
