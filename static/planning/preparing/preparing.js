// Where something waits for the planner to get ready: the bar moves by itself, and the page goes on when it is ready.

const EVERY_MS = 1000;
let turn = null;

// Looks again as long as a place that waits stands on the page; goOn is called once, when the wait is over.
export function follow(goOn) {
  clearTimeout(turn);
  if (document.querySelector("[data-preparing]")) turn = setTimeout(() => look(goOn), EVERY_MS);
}

async function look(goOn) {
  const place = document.querySelector("[data-preparing]");
  if (!place) return;
  try {
    const answer = await fetch(place.dataset.preparing);
    if (answer.status === 204) { goOn(); return; }
    if (answer.ok) place.replaceChildren(...new DOMParser().parseFromString(await answer.text(), "text/html").body.childNodes);
  } catch { /* no network: the next look comes soon enough */ }
  follow(goOn);
}

// A page that does nothing but wait is loaded again, and is then the page that was asked for.
if (document.getElementById("waiting-page")) follow(() => location.reload());
