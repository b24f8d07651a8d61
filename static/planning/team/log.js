// Log a run. Saving writes it into the tablet's queue first; only then is it sent. Without script the form posts itself.

import * as queue from "../../site/queue.js";
import { durationOf, firstWrong, forgetWrong, tell } from "./checks.js";
import { KeptRuns } from "./kept_runs.js";
import { Pad } from "./pad.js";
import { inOwnDigits, say } from "../../site/recall.js";
import { clockAhead } from "../../site/sender.js";
import { Stopwatch } from "./stopwatch.js";
import { onSettled, sender, show, team } from "../../site/tablet.js";

const form = document.getElementById("run-form");
const after = document.getElementById("after");
const save = document.getElementById("save");
const started = document.getElementById("start-stop");
const clock = new Stopwatch({
  field: document.getElementById("duration"),
  button: started,
  undo: document.getElementById("clock-undo"),
  place: document.querySelector(".clock-buttons"),
});
const pad = new Pad(document.querySelector(".pad"), { unit: form.dataset.unit, mm: Number(form.dataset.mm) });
const saidPad = new Pad(document.querySelector(".say-pad"), { unit: form.dataset.unit, mm: Number(form.dataset.mm), prefix: "say_" });
let number = Number(form.dataset.number);
let last = null; // the item that was saved last on this page
let changing = form.dataset.changes ? { uuid: form.dataset.changes, number: null } : null;

// A chosen answer that is tapped again is taken back; with the keyboard by the space bar.
let chosen = {};
const noteChosen = () => { chosen = Object.fromEntries([...form.querySelectorAll(":is(.ask, .before) input:checked")].map((radio) => [radio.name, radio.value])); };
const unchoose = (radio) => { radio.checked = false; noteChosen(); };
form.addEventListener("click", ({ target }) => {
  if (!target.closest(".ask input, .before .picks input")) return;
  if (chosen[target.name] === target.value) unchoose(target);
  else noteChosen();
});
let unchosen = null; // by the space bar that is still down
form.addEventListener("keydown", (event) => {
  if (event.key !== " " || !event.target.closest(":is(.ask, .before .picks) input:checked")) return;
  event.preventDefault();
  unchosen = event.target;
  unchoose(event.target);
});
form.addEventListener("keyup", (event) => {
  // A radio that was tapped a moment ago still counts as pressed: letting the bar go would choose it again.
  if (event.key === " " && event.target === unchosen) event.preventDefault();
  unchosen = null;
});
noteChosen();
document.getElementById("take-back-answer").hidden = false;

function asItem() {
  const item = { do: "log", uuid: queue.uuid7(), made_at: new Date().toISOString(), ahead_s: clockAhead() };
  for (const [name, value] of new FormData(form)) {
    if (!["csrfmiddlewaretoken", "uuid"].includes(name) && value !== "") item[name] = name === "tier" ? Number(value) : value;
  }
  if (!item.sideways) delete item.side;
  if (!item.along) delete item.way;
  if (!item.angle) delete item.angle_side;
  if (!item.say_sideways) delete item.say_side;
  if (!item.say_along) delete item.say_way;
  if (!item.trial) for (const name of ["trial", "trial_plan", "trial_words"]) delete item[name];
  if (item.change_step && item.change_size && (item.plan || item.trial_plan)) item.next_trial = queue.uuid7();
  else for (const name of ["change_step", "change_size", "change_way"]) delete item[name];
  return item;
}

// A change of a run that the server does not have takes its place; any other is an item of its own.
async function keep(item) {
  if (!changing) return queue.keep(team, item, number);
  if (changing.item) {
    item.made_at = changing.item.made_at;
    item.ahead_s = changing.item.ahead_s;
    if (changing.item.do === "change") Object.assign(item, { do: "change", of: changing.item.of });
  }
  if (await queue.replaceUnsent(changing.uuid, item)) return undefined;
  return queue.keep(team, Object.assign(item, { do: "change", of: changing.uuid }), changing.number);
}

// What was picked to try next is what the next runs test, before the server knows of it.
function pin(item) {
  if (!item.next_trial) return;
  const values = { step: item.change_step, size: item.change_size };
  const words = item.change_way === "more" ? say("step {step}: {size} more", values) : say("step {step}: {size} less", values);
  const set = (id, key, value) => { document.getElementById(id)[key] = value; };
  set("testing", "hidden", false);
  set("trial", "value", item.next_trial);
  set("trial", "checked", true);
  set("trial_plan", "value", item.plan ?? item.trial_plan);
  set("trial_words", "value", words);
  set("trial-says", "textContent", words);
  set("trial-of", "textContent", say("All else stays as in plan {plan}.", { plan: item.plan ?? item.trial_plan }));
  for (const old of document.querySelectorAll("#testing details, #trial-end")) old.remove();
}

form.addEventListener("submit", async (event) => {
  if (event.submitter?.hasAttribute("formaction")) return;
  event.preventDefault();
  if (save.disabled) return;
  if (clock.startedAt) clock.stop();
  const wrong = firstWrong(form);
  if (wrong) { tell(wrong); return; }
  save.disabled = true;
  const item = asItem();
  await keep(item);
  pin(item);
  last = { item, number: changing?.number ?? number, sent: false };
  if (!changing) number += 1;
  changing = null;
  tellKept();
  save.disabled = false;
  await show();
  sender.wake();
});

form.addEventListener("input", () => forgetWrong(form));

// Measuring by a picture is loaded when somebody asks for it: most runs are logged without.
const stopped = document.getElementById("stopped-link");
stopped?.addEventListener("click", async (event) => {
  event.preventDefault();
  try {
    const { openStopped } = await import("./picture/stopped.js");
    await openStopped(stopped.href, form, pad);
    stopped.textContent = "Measure it by a picture";
  } catch { stopped.textContent = "Measure it by a picture (no network just now)"; }
});

function element(tag, text, more = {}) {
  return Object.assign(document.createElement(tag), { textContent: text }, more);
}

function keptWords() {
  if (queue.onlyHere()) return last.number ? say("Run {number} waits in this page", last) : say("The change waits in this page");
  return last.number ? say("Run {number} is kept on this tablet", last) : say("The change is kept on this tablet");
}

// What the tablet itself can say about the run that it has just kept.
function tellKept() {
  const heading = element("h2", keptWords(), { tabIndex: -1, id: "kept-heading" });
  const list = element("ul", "", { className: "outcomes" });
  for (const ask of form.querySelectorAll(".ask")) {
    const picked = ask.querySelector("input:checked");
    const yes = picked?.value === "yes";
    const what = ask.querySelector("legend").textContent;
    list.append(element("li", `${yes ? "✓" : "◆"} ${yes ? say("{what}: yes", { what }) : say("{what}: not yet", { what })}`, { className: yes ? "met" : "" }));
  }
  const over = durationOf(form.elements.duration.value) - Number(form.dataset.limit ?? Infinity);
  if (over > 0) list.append(element("li", `◆ ${say("{seconds} s too slow: not clean yet", { seconds: inOwnDigits(Math.round(10 * over) / 10) })}`));
  const said = element("p", say("You can log the next run straight away. What this one says shows here when it has been sent."), { className: "soft", id: "kept-words" });
  const next = element("button", say("Log the next run"), { type: "button", className: "go big" });
  const fix = element("button", say("Put this run right"), { type: "button" });
  const back = element("button", say("Take this run back"), { type: "button" });
  next.addEventListener("click", nextRun);
  fix.addEventListener("click", putRight);
  back.addEventListener("click", () => takeBack(last));
  const row = element("div", "", { className: "row" });
  row.append(fix, back);
  // What comes later stands below the buttons: none moves away under a finger.
  after.replaceChildren(heading, list, next, row, element("div", "", { id: "what-it-says" }), said);
  after.hidden = false;
  form.hidden = true;
  document.querySelector(".last-runs")?.setAttribute("hidden", "");
  heading.focus();
  scrollTo(0, 0);
}

function nextRun() {
  const testing = document.getElementById("trial").checked; // a test goes on until the team ends it
  form.reset();
  document.getElementById("trial").checked = testing;
  clock.clear();
  pad.clear();
  saidPad.clear();
  for (const radio of form.querySelectorAll("input[type=radio]:not([name=at_target])")) radio.checked = radio.name === "cause" && !radio.value;
  for (const id of ["change_to_try", "angle", "note"]) document.getElementById(id).value = "";
  noteChosen();
  backToForm();
  showNumber();
  started.focus();
}

function showNumber() {
  const place = document.getElementById("run-number");
  if (place) place.textContent = String(changing?.number ?? number);
}

function putRight() {
  changing = { uuid: last.item.uuid, number: last.number, item: last.item };
  backToForm();
  showNumber();
  save.focus();
}

// One that this page has not kept itself: the form says what the run says.
function putRecordRight({ item, number: its }) {
  last = { item, number: its };
  form.reset();
  clock.clear();
  const unit = item.unit && item.unit !== form.dataset.unit ? ` ${item.unit}` : "";
  for (const field of form.querySelectorAll("input:not([type=hidden], [type=checkbox]), select")) {
    const said = String(item[field.name] ?? "");
    if (field.type === "radio") field.checked = field.value === said;
    else if (field.tagName !== "SELECT") field.value = said && field.dataset.check === "length" ? said + unit : said;
    else if ([...field.options].some((option) => option.value === said)) field.value = said;
  }
  noteChosen();
  pad.draw();
  saidPad.draw();
  clock.label();
  const trial = document.getElementById("trial");
  trial.checked = Boolean(item.trial);
  if (item.trial) {
    trial.value = item.trial;
    for (const id of ["trial_plan", "trial_words"]) document.getElementById(id).value = item[id] ?? "";
    document.getElementById("trial-says").textContent = item.trial_words ?? "";
    document.getElementById("testing").hidden = false;
  }
  putRight();
}

function backToForm() {
  after.hidden = true;
  form.hidden = false;
  save.textContent = changing ? say("Save the change") : say("Save this run");
  scrollTo(0, 0);
}

// A change that has not been sent makes room for the withdrawal of the run that it changes.
async function takeBack(gone) {
  const { item } = gone;
  last = null;
  const unsent = await queue.replaceUnsent(item.uuid);
  const of = unsent ? item.of : item.uuid;
  if (of) await queue.keep(team, { do: "withdraw", uuid: queue.uuid7(), of, made_at: new Date().toISOString() });
  if (gone.number) number -= 1;
  tellTakenBack(gone);
  await show();
  sender.wake();
}

function tellTakenBack(gone) {
  const heading = element("h2", gone.number ? say("Run {number} is taken back", gone) : say("The run is taken back"), { tabIndex: -1 });
  const next = element("button", say("Log the next run"), { type: "button", className: "go big" });
  const undo = element("button", say("Undo: it counts again"), { type: "button" });
  next.addEventListener("click", nextRun);
  undo.addEventListener("click", () => countAgain(gone), { once: true });
  after.replaceChildren(heading, element("p", say("It no longer counts.")), next, undo);
  after.hidden = false;
  form.hidden = true;
  heading.focus();
  scrollTo(0, 0);
}

// As a run of its own with what the first one said: what has been taken back stays so, on the server too.
async function countAgain({ item, number: its }) {
  const { of, ...rest } = item;
  const again = { ...rest, do: "log", uuid: queue.uuid7(), made_at: form.dataset.made || item.made_at };
  await queue.keep(team, again, its);
  last = { item: again, number: its };
  if (its) number += 1;
  tellKept();
  await show();
  sender.wake();
}

// Once the server has it, the server says what it means.
onSettled(async (record, reply) => {
  if (!last || record.uuid !== last.item.uuid || after.hidden) return;
  const heading = document.getElementById("kept-heading");
  const words = document.getElementById("kept-words");
  if (reply.status !== 200) {
    heading.textContent = say("This run was not taken");
    words.textContent = `${reply.words} ${say("It stays on this tablet. You can put it right or take it back.")}`;
    return;
  }
  heading.textContent = last.number ? say("Run {number} is saved", last) : say("The change is saved");
  words.textContent = "";
  try {
    const response = await fetch(`/team/log/${record.uuid}/`, { headers: { "X-Part": "yes" } });
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    document.getElementById("what-it-says")?.replaceChildren(...page.body.childNodes);
  } catch {
    words.textContent = say("What it says together with your last runs shows when there is network again.");
  }
});

new KeptRuns({ putRight: putRecordRight, takeBack: (record) => takeBack({ item: record.item, number: record.number }) });
queue.waiting(team).then((records) => {
  number += records.filter(({ item }) => item.do === "log" && String(item.tier) === form.elements.tier.value).length;
  showNumber();
});
