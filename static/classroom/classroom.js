// What is shown once is selected whole, so that it can be copied in one go.
document.addEventListener("focusin", (event) => {
  if (event.target.matches?.("[data-select]")) event.target.select();
});
