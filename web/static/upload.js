// Logs in: dropped or chosen, sorted into runs, sent with progress, then straight to the review.
import { readAllGiven, readGiven, tell } from "./answers.js";
import { questionsOf as asksOf } from "./asked.js";
import { engineSpeedAsked } from "./enginespeed.js";
import { changed } from "./fresh.js";
import { asRuns, showRuns, size, sort } from "./heap.js";
import { send } from "./sending.js";
import { made } from "./tables.js";
import { sound, watch } from "./understood.js";
import { allKept, answers, keep, letGo } from "./waiting.js";
import { showWhen, watchWhen, whenOf } from "./when.js";

const form = document.getElementById("upload");
const drop = document.getElementById("drop");
const picker = form.querySelector("input[type=file]");
const chosen = form.querySelector(".chosen");
const heapPlace = form.querySelector(".heap");
const button = form.querySelector("button[type=submit]");
const progress = form.querySelector(".progress");
const bar = progress.querySelector("progress");
const stop = progress.querySelector("button");
const reply = form.querySelector(".reply");
const wrong = form.querySelector(".wrong");
const waiting = form.querySelector(".waiting");
const DOUBTS = new Set(form.dataset.doubts.split(" "));
const UNLIKE = form.dataset.unlike.split(" ");
const askedPlace = made("div"); // behind the form: a question is a form of its own
form.after(askedPlace);
const ASK_AGAIN_MS = 15_000;

const whenWritten = watchWhen(form);

let heap = { runs: [], unread: [] };
let sorting = Promise.resolve();
let sending = null;

// Files chosen, and which of them are of one run

function show() {
  const simple = heap.runs.length === 1 && !heap.unread.length && heap.runs[0].length < 3;
  chosen.hidden = !simple && heap.runs.length > 0;
  heapPlace.hidden = !chosen.hidden;
  if (!chosen.hidden) {
    const lines = [...picker.files].map((file) => made("li", {}, `${file.name}, ${size(file.size)}`));
    chosen.replaceChildren(...lines);
  } else showRuns(heapPlace.querySelector("ol"), heap);
  for (const part of form.querySelectorAll("[data-one-run]")) part.hidden = heap.runs.length > 1;
  button.textContent = heap.runs.length > 1 ? `Review the ${heap.runs.length} runs` : "Review it";
}

function choose() {
  const files = [...picker.files];
  heap = asRuns(files, null);
  wrong.replaceChildren();
  form.querySelector("details").open = true;
  show();
  showToldWhen([]); // of other files
  if (!files.length) return;
  const found = sort(files, form.elements.car.value);
  if (files.length === 1) found.then((sorted) => sorted && files[0] === picker.files[0] && showToldWhen(sorted)); // nobody waits for it
  if (files.length < 2) return;
  sorting = found.then((sorted) => {
    if (!sorted || files[0] !== picker.files[0]) return;
    showToldWhen(sorted);
    heap = asRuns(files, sorted);
    if (!heap.runs.length) heap = asRuns(files, null); // nothing could be read: the review says why
    show();
  });
}

/** What the logs tell of when the run was made stands in the form; what a person wrote there stays. */
function showToldWhen(sorted) {
  const told = sorted.map(({ made_at: at }) => at).filter(Boolean);
  if (!whenWritten()) showWhen(form, told.find((at) => at.includes("T")) ?? told[0] ?? "");
}

// Which car the logs will be read as: carried over, it is told where they are sent, not only where it is chosen

const readAs = form.querySelector(".read-as");

function showCar() {
  const { value, selectedOptions } = form.elements.car;
  const name = made("b", {}, selectedOptions[0]?.text.trim() ?? "");
  const carried = value && value === readAs.dataset.car ? `, the car of ${readAs.dataset.run}` : "";
  readAs.replaceChildren(...(value ? ["These logs will be read as ", name, `${carried}.`] : ["These logs will be read ", made("b", {}, "without a car"), ": no power, band or limits."]));
}

form.elements.car.addEventListener("change", showCar);
addEventListener("pageshow", showCar); // a browser that comes back puts its own choice in

picker.addEventListener("change", choose);
heapPlace.addEventListener("change", (event) => event.target.matches(".to-run") && show());
for (const kind of ["dragenter", "dragover"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  picker.files = event.dataTransfer.files;
  choose();
});

// What is said of each run

function uploads() {
  const several = heap.runs.length > 1;
  const field = (name) => form.elements[name].value.trim();
  return heap.runs.map((run) => {
    const details = { finish_ft: Number(form.elements.finish_ft.value), event: field("event") };
    for (const name of ["label", "round"]) details[name] = (several ? (run[name] ?? "") : field(name)).trim();
    if (!several && whenWritten()) details.at = whenOf(form); // else the logs tell it
    for (const fieldset of form.querySelectorAll("[data-part]")) {
      if (several && fieldset.closest("[data-one-run]")) continue;
      const filled = readGiven(fieldset);
      if (filled) details[fieldset.dataset.part] = filled;
    }
    return { car: form.elements.car.value, details, files: run.map(({ file }) => ({ name: file.name, blob: file })) };
  });
}

const nameOf = ({ details, files }) => details.label || details.round || files[0].name;

// Sending, and what came of it

const line = (...parts) => reply.append(made("p", {}, ...parts));
const linkTo = (run, text) => made("a", { href: `/runs/${encodeURIComponent(run.id)}` }, text);

/** A run's name beside the others of its upload, which may have one label. */
function nameAmong(runs, at) {
  const name = runs[at].label || runs[at].round;
  return name ? `${name}, run ${at + 1}` : `run ${at + 1}`;
}

/** Doubts that only a person can settle, as the reading of the logs has them. */
const questionsOf = (findings) => findings.filter(({ code, level }) => level === "caution" && DOUBTS.has(code));

function showRunsOf(upload, { status, body }) {
  const links = body.runs.flatMap((run, at) => [...(at ? [", "] : []), linkTo(run, run.label || run.round || nameOf(upload))]);
  const unlike = body.findings.some(({ code, level }) => level === "caution" && UNLIKE.includes(code)) ? [" ▲ Against the gearing given: is it that car?"] : [];
  line(status === 200 ? "Here already, nothing was changed: " : "Reviewed: ", ...links, ...unlike);
  const questions = questionsOf(body.findings);
  if (!questions.length) return;
  const asked = questions.map(({ text, where }) => made("li", {}, where ? `${text} (${where})` : text));
  const places = body.runs.flatMap((run, at) => {
    const name = body.runs.length > 1 ? nameAmong(body.runs, at) : "the run's own page";
    return [...(at ? [", "] : []), Object.assign(linkTo(run, name), { hash: "asked" })];
  });
  line("In doubt; answer here or on ", ...places, ":");
  const here = made("div", {}, made("ul", { className: "questions" }, ...asked));
  askedPlace.append(here);
  askIn(here, body.runs);
}

/** Put the questions of all runs with their choices in the place of the sentences alone; where none come, these stay. */
async function askIn(place, runs) {
  const all = await Promise.all(runs.map((run) => asksOf(run).catch(() => null)));
  const seen = new Set();
  const sameAgain = [];
  const asked = [];
  for (const [at, section] of all.entries()) {
    if (!section) continue;
    const questions = columnsAsked(section);
    if (questions.length && questions.every((one) => seen.has(one))) {
      sameAgain.push(...(sameAgain.length ? [", "] : []), linkTo(runs[at], nameAmong(runs, at)));
      continue;
    }
    for (const one of questions) seen.add(one);
    asked.push(section);
    const heading = section.querySelector("h2");
    if (runs.length > 1) heading.append(", ", linkTo(runs[at], nameAmong(runs, at)));
    for (const one of [section, ...section.querySelectorAll("[id]")]) one.id += `-${at + 1}`; // several on one page
    for (const name of ["aria-labelledby", "aria-describedby"]) {
      for (const one of [section, ...section.querySelectorAll(`[${name}]`)]) {
        if (one.hasAttribute(name)) one.setAttribute(name, `${one.getAttribute(name)}-${at + 1}`);
      }
    }
  }
  if (!asked.length) return;
  place.replaceChildren(...asked);
  if (sameAgain.length) place.append(made("p", {}, "The same is asked of ", ...sameAgain, "; once answered, you are offered to review them with the answers."));
}

/** Which columns of which layouts a section asks about. */
function columnsAsked(section) {
  const values = (name) => [...section.querySelectorAll(`fieldset [name="${name}"]`)].map(({ value }) => value);
  const layouts = values("layout");
  return values("column").map((column, at) => `${layouts[at]} ${column}`);
}

async function sendOne(upload, number, count) {
  const before = count > 1 ? `Run ${number + 1} of ${count}, ${nameOf(upload)}: ` : "";
  const say = (share, words) => {
    bar.value = (100 * (number + share)) / count;
    const text = before ? before + words : words[0].toUpperCase() + words.slice(1);
    const place = progress.querySelector("output");
    if (place.textContent !== text) place.textContent = text; // a live region is read out at each change
  };
  say(0, "sending");
  sending = send(upload, say);
  try {
    return await sending.answered;
  } finally {
    sending = null;
  }
}

/** Send uploads one after another. Gives back the answers that are runs; what failed is shown, what found nobody is kept. */
async function sendAll(all) {
  const done = [];
  let unreachable = false;
  for (const upload of all) upload.id ??= await keep(upload).catch(() => undefined);
  for (const [number, upload] of all.entries()) {
    try {
      if (unreachable) throw "unreachable";
      const answer = await sendOne(upload, number, all.length);
      if (answer.status === 503) throw "unreachable"; // the service is ending
      if (answer.status < 300) {
        changed();
        done.push([upload, answer]);
      } else fail(upload, answer.body, all.length > 1);
      await forget(upload);
    } catch (why) {
      if (why === "cancelled") {
        for (const one of all.slice(number)) await forget(one);
        line(`Cancelled: ${all.slice(number).map(nameOf).join(", ")}. Nothing of it was kept.`);
        break;
      }
      if (why !== "unreachable") throw why;
      unreachable = true;
      if (!upload.id) await hold(upload);
    }
  }
  return done;
}

async function forget(upload) {
  if (upload.id) await letGo(upload.id);
  delete upload.id;
}

let failed = []; // of the last sending, with their problems

function fail(upload, problem, several) {
  failed.push({ upload, columns: problem.columns ?? [] });
  const title = several ? `${nameOf(upload)}: ${problem.title}` : (problem.title ?? "Not done");
  const place = made("div");
  wrong.append(place);
  tell(place, { title, detail: problem.detail ?? "The server answered with an error.", findings: problem.findings });
}

/** Ask which column is engine speed, of all that were refused for want of it; what has the same columns is asked once. */
function askEngineSpeed(refused) {
  const cars = [...form.elements.car.options].filter(({ value }) => value).map(({ value, text }) => ({ id: value, name: text.trim() }));
  const asked = new Set();
  for (const { upload, columns } of refused) {
    const key = JSON.stringify([upload.car, columns.map(({ layout, column }) => [layout, column])]);
    if (!columns.length || asked.has(key)) continue;
    asked.add(key);
    const car = cars.find(({ id }) => id === upload.car);
    const question = engineSpeedAsked({ columns, cars, car, name: nameOf(upload), alone: refused.length === 1 }, (kept) => sendAnswered(refused, upload, kept));
    askedPlace.append(question);
  }
}

/** Send again what was refused, now that the car says which column is engine speed; an answer that makes no run is taken back. */
async function sendAnswered(refused, answered, { car, undo }) {
  const select = form.elements.car;
  if (![...select.options].some(({ value }) => value === car.id)) select.append(new Option(car.name, car.id));
  const again = refused.map(({ upload, columns }) => ({ upload: upload.car === answered.car ? { ...upload, car: car.id } : upload, columns }));
  const done = await working(() => sendAll(again.map(({ upload }) => upload)));
  const unread = again.filter(({ upload }) => failed.some((one) => one.upload === upload));
  if (!done.length && unread.length) await undo();
  showDone(done, again.length === 1);
  askEngineSpeed(unread);
}

async function hold(upload) {
  try {
    await keep(upload);
  } catch {
    fail(upload, { title: "No answer", detail: "The service cannot be reached, and this browser has no room to keep the logs. Try again." }, true);
  }
}

async function working(work) {
  button.disabled = true;
  progress.hidden = false;
  failed = [];
  reply.replaceChildren();
  askedPlace.replaceChildren();
  wrong.replaceChildren();
  try {
    return await work();
  } finally {
    progress.hidden = true;
    button.disabled = false;
    showWaiting();
  }
}

const check = watch(form, () => readAllGiven(form));
stop.addEventListener("click", () => sending?.cancel());

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (!picker.files.length) return;
  const seen = button.textContent;
  button.disabled = true;
  reply.replaceChildren(made("p", {}, "Looking which logs are of one run"));
  await sorting;
  reply.replaceChildren();
  const fault = await sound(form, check).catch((problem) => problem);
  button.disabled = false;
  if (fault?.detail) return tell(wrong, fault);
  if (heap.runs.length > 1 && seen === "Review it") return; // sorted only now: a person looks first
  const done = await working(() => sendAll(uploads()));
  if (showDone(done, heap.runs.length === 1)) return;
  askEngineSpeed(failed);
  if (done.length && done.length === heap.runs.length) {
    picker.value = "";
    choose();
  }
});

/** Show what came of uploads; one run alone, of which nothing is asked, is gone to at once. */
function showDone(done, alone) {
  const [only] = done;
  const plain = alone && done.length === 1 && only[1].body.runs.length === 1;
  if (plain && only[1].status === 201 && !questionsOf(only[1].body.findings).length) {
    location.assign(`/runs/${encodeURIComponent(only[1].body.runs[0].id)}`);
    return true;
  }
  for (const [upload, answer] of done) showRunsOf(upload, answer);
  const { event } = done[0]?.[0].details ?? {};
  if (done.length > 1) line("All of them: ", made("a", { href: event ? `/events/${encodeURIComponent(event)}` : "/" }, event ? `the sheet of ${event}` : "the runs"));
  return false;
}

// Another event brings its own air, car and finish line

const carriedSay = form.querySelector(".carried");
const air = form.querySelector("[data-part=air]");
const airWritten = () => [...air.querySelectorAll("input")].map(({ value }) => value).join("\n");
let carriedAir = airWritten(); // what a person wrote is never written over

form.elements.event.addEventListener("change", async () => {
  const event = form.elements.event.value.trim();
  const answer = await fetch(`/carried?event=${encodeURIComponent(event)}`).catch(() => null);
  const carried = answer?.ok ? (await answer.json()).carried : null;
  carriedSay.hidden = !carried;
  if (carriedAir === airWritten()) fillAir(carried?.air ?? {});
  if (carried?.car) Object.assign(readAs.dataset, { car: carried.car, run: carried.title });
  if (!carried) return;
  carriedSay.textContent = `Car, finish line${Object.keys(carried.air).length ? " and air" : ""} as in ${carried.title}.`;
  form.elements.finish_ft.value = String(carried.finish_ft);
  if (carried.car) form.elements.car.value = carried.car;
  showCar();
  check();
});

function fillAir(given) {
  for (const input of air.querySelectorAll("input")) {
    const { text = "", unit = "" } = given[input.name] ?? {};
    const select = air.querySelector(`select[data-unit="${input.name}"]`);
    input.value = select && unit && ![...select.options].some((one) => one.value === unit) ? `${text} ${unit}` : text;
    if (select && unit) select.value = unit;
    if (select && !select.value) select.selectedIndex = 0;
  }
  carriedAir = airWritten();
}

// Uploads that found no service

let asking;

async function showWaiting() {
  const kept = await allKept();
  waiting.hidden = !kept.length;
  clearTimeout(asking);
  if (!kept.length) return;
  const lines = kept.map((upload) => {
    const words = `${nameOf(upload)}: ${upload.files.map(({ name }) => name).join(", ")} `;
    const discard = made("button", { type: "button", className: "quiet", ariaLabel: `Discard ${nameOf(upload)}` }, "Discard");
    discard.addEventListener("click", () => letGo(upload.id).then(showWaiting));
    return made("li", {}, words, discard);
  });
  waiting.querySelector("ul").replaceChildren(...lines);
  asking = setTimeout(sendWaiting, ASK_AGAIN_MS);
}

async function sendWaiting() {
  const kept = await allKept();
  if (!kept.length || sending || !(await answers())) return showWaiting();
  showDone(await working(() => sendAll(kept)), false);
}

waiting.querySelector("button").addEventListener("click", sendWaiting);
addEventListener("online", sendWaiting);
sendWaiting();
