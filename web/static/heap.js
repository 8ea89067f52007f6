// Files sorted into runs: by the service first, then corrected by a person.

import { made } from "./tables.js";
import { asRead } from "./when.js";

/** A log this small is looked at whole, so that its clock can be compared with others; of a longer one the beginning. */
const WHOLE_BYTES = 4e6;
const HEAD_BYTES = 256e3;
const PACKED = /\.(gz|zip)$/i;

export function size(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

/** A fifth of the bytes. */
const packed = (blob, name) => (globalThis.CompressionStream && !PACKED.test(name) ? new Response(blob.stream().pipeThrough(new CompressionStream("gzip"))).blob() : blob);

/** Ask the service which files are of one run; null where it does not answer. */
export async function sort(files, car) {
  const whole = files.map((file) => (files.length > 1 && file.size <= WHOLE_BYTES) || PACKED.test(file.name)); // one alone is held against none
  const form = new FormData();
  if (car) form.append("car", car);
  const saved = files.map((file) => (file.lastModified ? file.lastModified / 1000 : null));
  form.append("details", JSON.stringify({ whole, saved_s: saved }));
  try {
    const sent = await Promise.all(files.map((file, at) => packed(whole[at] ? file : file.slice(0, HEAD_BYTES), file.name)));
    files.forEach((file, at) => form.append("log", sent[at], file.name));
    const answer = await fetch("/api/runs/sort", { method: "POST", body: form });
    return answer.ok ? (await answer.json()).files : null;
  } catch {
    return null;
  }
}

/** Files of each run, with what the service said of them; those it could not read apart. */
export function asRuns(files, sorted) {
  const runs = [];
  const unread = [];
  files.forEach((file, at) => {
    const found = sorted?.[at] ?? { run: 0, leads: at === 0, why: "", problem: "" };
    if (found.run === null) unread.push({ file, ...found });
    else (runs[found.run] ??= []).push({ file, ...found });
  });
  return { runs: runs.filter(Boolean), unread };
}

/** Show runs with their files, each of which may be put into another; `said` keeps what was written of each run. */
export function showRuns(place, heap) {
  const again = () => showRuns(place, heap);
  for (const run of heap.runs) run.sort((a, b) => b.leads - a.leads);
  const cards = heap.runs.map((run, number) => {
    const name = heap.runs.length > 1 ? `Run ${number + 1}` : "One run";
    const files = run.map((one) => fileLine(heap, one, number, again));
    const card = made("li", {}, made("h3", { textContent: name }));
    if (heap.runs.length > 1) card.append(fieldsOf(run, name));
    card.append(made("ul", { className: "chosen" }, ...files));
    return card;
  });
  const unread = heap.unread.map(({ file, problem }) => made("li", { className: "gone", textContent: `${file.name} is left out: ${problem.replace(`${file.name}: `, "")}` }));
  place.replaceChildren(...cards, ...unread);
}

function fieldsOf(run, name) {
  const fields = ["Round", "Label"].map((label) => {
    const key = label.toLowerCase();
    const input = made("input", { maxLength: 200, value: run[key] ?? "" });
    input.setAttribute("aria-label", `${label} of ${name.toLowerCase()}`);
    input.addEventListener("input", () => (run[key] = input.value));
    return made("label", { textContent: label }, input);
  });
  return made("div", { className: "fields short" }, ...fields);
}

function fileLine(heap, one, number, again) {
  const words = [size(one.file.size), one.leads && heap.runs[number].length > 1 ? "the engine's log" : one.why, asRead(one.made_at ?? "")].filter(Boolean).join(", ");
  const line = made("li", {}, made("span", { textContent: `${one.file.name} ` }, made("span", { className: "say", textContent: words })));
  if (heap.runs.length + heap.runs[number].length < 3) return line;
  const choice = made("select", { className: "to-run" });
  choice.setAttribute("aria-label", `Run that ${one.file.name} is of`);
  heap.runs.forEach((_, at) => choice.append(new Option(`run ${at + 1}`, String(at), at === number, at === number)));
  if (heap.runs[number].length > 1) choice.append(new Option("a run of its own", "new"));
  choice.append(new Option("leave out", "out"));
  choice.addEventListener("change", () => {
    move(heap, one, number, choice.value);
    again();
  });
  line.append(choice);
  return line;
}

function move(heap, one, from, to) {
  heap.runs[from].splice(heap.runs[from].indexOf(one), 1);
  if (to === "out") heap.unread.push({ ...one, problem: "You left it out; choose the files anew to have it back." });
  else if (to === "new") heap.runs.push([{ ...one, why: "" }]);
  else heap.runs[Number(to)].push({ ...one, why: "moved here by you" });
  heap.runs = heap.runs.filter((run) => run.length);
}
