// What may be changed of a run: what is said of it, what its columns were taken for, and its being here at all.
import { readAllGiven, readGiven, readProblem, send, work } from "./answers.js";
import { asRuns, sort } from "./heap.js";
import { asForm } from "./sending.js";
import { askTwice } from "./twice.js";
import { sound, watch } from "./understood.js";
import { watchWhen, whenOf } from "./when.js";

const page = document.querySelector("[data-run]");
const address = `/api/runs/${encodeURIComponent(page.dataset.run)}`;

/** The new answer, from its top: who saved a slip far below wants to see what became of the run. */
function showAnew() {
  location.replace(location.pathname + location.search);
}

/** A link to what is folded opens it. */
function unfold() {
  const place = location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null;
  if (place instanceof HTMLDetailsElement) place.open = true;
}
addEventListener("hashchange", unfold);
unfold();

/** Whether a field holds something else than the page came with; a browser may have filled it in again by itself. */
function isChanged(field) {
  if (!field.options) return field.value !== field.defaultValue;
  const options = [...field.options];
  return field.selectedOptions[0] !== (options.find((one) => one.defaultSelected) ?? options[0]);
}

const edit = document.querySelector("[data-edit]");
const was = JSON.parse(edit.querySelector("script").textContent); // what this page shows; others may tell anew meanwhile
const check = watch(edit, () => readAllGiven(edit));
const whenWritten = watchWhen(edit);
document.getElementById("edit").addEventListener("toggle", check, { once: true });
edit.addEventListener("submit", (event) => {
  event.preventDefault();
  const said = {};
  for (const name of ["label", "event", "round", "notes"]) {
    if (isChanged(edit.elements[name])) said[name] = edit.elements[name].value.trim();
  }
  for (const fieldset of edit.querySelectorAll("[data-part]")) {
    if ([...fieldset.querySelectorAll("input, select")].some(isChanged)) said[fieldset.dataset.part] = readGiven(fieldset);
  }
  if (isChanged(edit.elements.finish_ft)) said.finish_ft = Number(edit.elements.finish_ft.value);
  if (whenWritten()) said.at = whenOf(edit);
  if (edit.elements.car?.value && isChanged(edit.elements.car)) said.car = edit.elements.car.value;
  work(edit.querySelector("button"), edit.querySelector("output[role=status]"), "Reviewing again…", async () => {
    await sound(edit, check);
    try {
      await send("PATCH", address, { ...said, was });
    } catch (problem) {
      Object.assign(was, problem.now); // told what stands there now, they may save again
      throw problem;
    }
    showAnew();
  });
});

/** A car's answers without those that were just said otherwise: an answer for this layout would win over the table. */
function answersLeft(car, renamed) {
  const here = new Set(page.dataset.layouts.split(" "));
  const rest = ([layout, said]) => [layout, here.has(layout) ? Object.fromEntries(Object.entries(said).filter(([column]) => !(column in renamed))) : said];
  return Object.fromEntries(Object.entries(car.layouts ?? {}).map(rest).filter(([, said]) => Object.keys(said).length));
}

const channels = document.querySelector("[data-channels]");
channels?.addEventListener("submit", (event) => {
  event.preventDefault();
  const changed = [...channels.querySelectorAll("input[data-header]")].filter((one) => one.value !== one.dataset.was);
  const status = channels.querySelector("output");
  if (!changed.length) {
    status.textContent = "Nothing was changed.";
    return;
  }
  work(channels.querySelector("button"), status, "Reviewing again…", async () => {
    const place = `/api/cars/${encodeURIComponent(page.dataset.car)}`;
    const car = await send("GET", place);
    const renamed = Object.fromEntries(changed.map((one) => [one.dataset.header, one.value.trim() || "ignore"]));
    await send("PUT", `${place}?made_of=${car.version}`, { ...car, channels: { ...car.channels, ...renamed }, layouts: answersLeft(car, renamed) });
    await send("PATCH", address, {});
    showAnew();
  });
});

// Another device's log, an hour later: all logs of the run are sent again together, and the run of fewer goes to the trash

async function withMore(more) {
  const run = await send("GET", address);
  const names = run.log_names;
  const kept = await Promise.all(names.map(async (name, n) => new File([await (await fetch(`${address}/logs/${n}`)).blob()], name, { lastModified: 0 })));
  const details = {};
  for (const name of ["label", "event", "round", "notes", "slip", "air", "finish_ft", "at"]) if (run[name]) details[name] = run[name];
  const all = [...kept, ...more];
  const sorted = await sort(all, run.car?.id ?? "");
  const [one] = sorted ? asRuns(all, sorted).runs : [];
  const files = (one?.length === all.length ? one.sort((a, b) => b.leads - a.leads).map(({ file }) => file) : all).map((file) => ({ name: file.name, blob: file }));
  const answer = await fetch("/api/runs", { method: "POST", body: asForm({ car: run.car?.id, details, files }) });
  const text = await answer.text();
  if (!answer.ok) throw readProblem(text, answer.status);
  const { runs } = JSON.parse(text);
  const together = runs.length === 1 ? runs[0].id : null;
  if (together === page.dataset.run) throw { detail: "This log is of the run already." };
  if (!together) throw { detail: "Together the logs hold more than one run: those stand in the list beside this one." };
  await send("DELETE", `${address}?place_to=${encodeURIComponent(together)}`);
  location.replace(`/runs/${encodeURIComponent(together)}`);
}

const addLog = document.querySelector("[data-add-log]");
addLog?.elements.log.addEventListener("change", ({ target }) => {
  if (target.files.length) work(target, addLog.querySelector("output"), "Reviewing together…", () => withMore(target.files));
});

const usual = document.querySelector("[data-usual]");
usual?.addEventListener("submit", (event) => {
  event.preventDefault();
  const notes = usual.elements.notes.value.trim();
  work(usual.querySelector("[type=submit]"), usual.querySelector("output"), "Saving…", async () => {
    await send("PUT", `${address}/usual`, { notes });
    location.reload();
  });
});
const takeBack = usual?.querySelector("[data-take-back]");
takeBack?.addEventListener("click", () => {
  work(takeBack, usual.querySelector("output"), "Undoing…", async () => {
    await send("DELETE", `${address}/usual`);
    location.reload();
  });
});

const remove = document.querySelector("[data-delete]");
const deleteRun = (status) =>
  work(remove, status, "Deleting…", async () => {
    await send("DELETE", address);
    const { entries } = await send("GET", "/api/trash");
    const entry = entries.find((one) => one.runs.some((run) => run.id === page.dataset.run));
    location.assign(entry ? `/?deleted=${encodeURIComponent(entry.id)}` : "/");
  });
askTwice(remove, "Yes, delete this run", deleteRun, "The review and its logs go to the trash, from where they can be restored.");
