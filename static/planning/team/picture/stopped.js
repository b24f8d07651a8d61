// Where did the robot stop: one picture, and the answer fills the run's form, to be changed there or left.

import { send } from "../../../classroom/club/marks/send.js";
import { say } from "../../../site/recall.js";

const dialog = document.createElement("dialog");
dialog.className = "picture-dialog";
dialog.setAttribute("aria-label", say("Where did it stop?"));

function element(tag, text, more = {}) {
  return Object.assign(document.createElement(tag), { textContent: text, ...more });
}

// Opens over the run's form, which stays as it is. Throws where the page cannot be had.
export async function openStopped(address, form, pad) {
  const response = await fetch(address, { headers: { "X-Part": "yes" } });
  if (!response.ok || response.redirected) throw new Error("no page");
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const close = element("button", say("Back to the run"), { type: "button" });
  close.addEventListener("click", () => dialog.close());
  dialog.replaceChildren(element("h2", say("Where did it stop?")), ...page.body.childNodes, close);
  document.body.append(dialog);
  const asks = dialog.querySelector("#stopped");
  if (!asks) throw new Error("no page");
  const chosen = form.querySelector("[name=at_target]:checked");
  if (chosen && asks.elements.at_target) asks.elements.at_target.value = chosen.value;
  asks.addEventListener("submit", (event) => { event.preventDefault(); measure(asks, form, pad); });
  dialog.showModal();
}

async function measure(asks, form, pad) {
  const says = asks.querySelector("#stopped-says");
  const button = asks.querySelector("button");
  const tell = (words, kind = "") => says.replaceChildren(element("p", words, { className: `notice ${kind}` }));
  if (!asks.elements.picture.files[0]) { tell(say("Take a picture first, or choose one."), "warning"); return; }
  button.disabled = true;
  tell(say("Measuring…"));
  try {
    const { fields, words } = await send(asks.action, new FormData(asks), () => tell(say("Others are measuring just now. Yours is next…")));
    const list = element("ul", "", { className: "notice success plain" });
    list.append(...words.map((line) => element("li", `${line}.`)));
    const use = element("button", say("Use these numbers"), { type: "button", className: "go" });
    use.addEventListener("click", () => { fill(form, pad, fields, asks.elements.at_target?.value); dialog.close(); });
    says.replaceChildren(list, ...(Object.keys(fields).length ? [use] : []));
    use.focus();
  } catch (error) { tell(error.message, "error"); }
  button.disabled = false;
}

// What the picture said, as if it had been typed: the pad draws it, and its undo takes it back.
function fill(form, pad, fields, target) {
  const at = target === undefined ? null : form.querySelector(`[name=at_target][value="${target}"]`);
  if (at && !at.checked) at.click();
  if (fields.home) {
    const radio = form.querySelector(`[name=outcome_home][value=${fields.home}]`);
    if (radio && !radio.checked) radio.click();
  }
  if (!fields.sideways) return;
  pad.change({ left: (fields.side === "right" ? -1 : 1) * Number(fields.sideways), far: (fields.way === "short" ? -1 : 1) * Number(fields.along) });
  for (const name of ["angle", "angle_side"]) form.elements[name].value = fields[name];
  form.elements.angle.closest("details").open = true;
  form.dispatchEvent(new Event("input"));
}
