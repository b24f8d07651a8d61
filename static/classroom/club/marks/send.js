// A picture goes to the server, is measured there, and the answer comes back in words or numbers. Nothing of it is kept.

import { say } from "../../../site/recall.js";

const MOST_TRIES = 12;
const pause = (seconds) => new Promise((done) => { setTimeout(done, 1000 * seconds); });

// What the server answers; an Error with words for people where it does not. While others measure, it is asked again.
export async function send(address, body, waits = () => {}) {
  for (let tries = 1; ; tries += 1) {
    let response;
    try {
      response = await fetch(address, { method: "POST", body, headers: { Accept: "application/json" } });
    } catch {
      if (tries < 3) { await pause(1); continue; } // a busy server may hang up before it has all of a picture
      throw new Error(say("No network: nothing was sent. What is on this page stays; try again when the network is back."));
    }
    const said = response.headers.get("Content-Type")?.startsWith("application/json") ? await response.json() : null;
    if (response.status === 503 && tries < MOST_TRIES) {
      waits();
      await pause(Number(response.headers.get("Retry-After")) || 3);
      continue;
    }
    if (response.ok && said) return said;
    if (response.ok || response.redirected) return { leads: response.url };
    throw new Error(said?.words ?? say("That did not work. Load the page again, then try once more."));
  }
}
