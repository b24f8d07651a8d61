// What is wrong with a box stands below it, as on a page that comes whole.

const describedBy = (input) => (input.getAttribute("aria-describedby") || "").split(" ").filter(Boolean);

function describe(input, ids) {
  if (ids.length) input.setAttribute("aria-describedby", ids.join(" ")); else input.removeAttribute("aria-describedby");
}

/** In a table the words have a row of their own: a column of numbers is too narrow for them. */
function rowOf(said, columns) {
  const row = Object.assign(document.createElement("tr"), { className: "wrong" });
  row.insertCell().colSpan = columns;
  row.cells[0].append(said);
  return row;
}

/** The words; without any the box is only marked. */
export function sayBelow(input, words) {
  input.setAttribute("aria-invalid", "true");
  if (!words) return;
  const said = Object.assign(document.createElement("p"), { className: "wrong", id: `${input.id}-wrong`, textContent: words });
  const row = input.closest("tr");
  if (row) row.after(rowOf(said, row.cells.length));
  else (input.closest(".field") || input.parentElement).append(said);
  describe(input, [...describedBy(input), said.id]);
}

/** Nothing is said any more of the boxes within: they were checked anew, or have other numbers now. */
export function unsay(within) {
  for (const said of within.querySelectorAll("p.wrong, tr.wrong")) said.remove();
  for (const input of within.querySelectorAll('[aria-invalid="true"]')) {
    input.removeAttribute("aria-invalid");
    describe(input, describedBy(input).filter((id) => !id.endsWith("-wrong")));
  }
}
