// Small behaviours every page has. No library; htmx does the swapping.

// Keep the focus where it was when a fragment replaces itself.
let focused = null;
document.addEventListener("htmx:beforeSwap", () => { focused = document.activeElement?.id || null; });
document.addEventListener("htmx:afterSettle", () => {
  if (focused && document.activeElement === document.body) document.getElementById(focused)?.focus();
});

// A fragment that cannot be fetched says so; the page keeps what it shows.
for (const name of ["htmx:sendError", "htmx:responseError"]) {
  document.addEventListener(name, (event) => {
    const status = event.detail.xhr?.status;
    if (status === 304) return;
    document.body.dataset.link = "lost";
  });
}
document.addEventListener("htmx:afterOnLoad", () => { delete document.body.dataset.link; });

// A button pressed twice sends once.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  if (!form.hasAttribute("hx-post")) {
    form.dataset.sent = "1";
    setTimeout(() => delete form.dataset.sent, 4000);
  }
});

// Printing is asked for by a button, since nothing is inline.
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});
