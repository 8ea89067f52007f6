// A bench's sheets and a compressor's map, read here as text, laid beside the run by the service, kept with the car.
import { send, tell } from "./answers.js";
import { benchTables } from "./benchtables.js";
import { made } from "./tables.js";
import { fillField, sound, unitBeside, watch, withUnit } from "./understood.js";

const section = document.querySelector("section.bench");
const form = document.getElementById("bench");
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");
const answer = document.querySelector(".bench-answer");
const car = section.dataset.car;
const SHEETS = ["flow_sheet", "flow_sheet_before", "dynamometer", "dynamometer_before", "compressor_map"];
const ORDER = ["compressor_map", "head_change", "dynamometer_change", "dynamometer", "head"];
const WORDS = ["volumetric_efficiency", "inlet_loss", "charge_loss", "compressors"];
let sheets = {};

/** Sheets that the car keeps, by kind. */
async function recall() {
  if (!car) return;
  const kept = await send("GET", `/api/cars/${car}/sheets`).catch(() => ({ sheets: [] }));
  for (const one of kept.sheets) sheets[one.what] = one;
  const map = sheets.compressor_map;
  if (map?.id) for (const name of WORDS) fillField(form, name, String(map[name]));
}

const installed = () => ({ compressors: Number(form.elements.compressors.value) || 1, ...Object.fromEntries(WORDS.slice(0, 3).map((name) => [name, withUnit(form.elements[name].value, unitBeside(form, name))])) });

const check = watch(form, () => ({ turbo: installed() }));

/** What was sent is kept with the car; the service keeps none twice. Who may only read keeps nothing. */
async function keep() {
  if (!car) return;
  try {
    for (const what of SHEETS) {
      if (!sheets[what] || (sheets[what].id && what !== "compressor_map")) continue;
      const more = what === "compressor_map" ? installed() : {};
      for (const [name, value] of Object.entries(more)) if (value === "") delete more[name];
      sheets[what] = await send("POST", `/api/cars/${car}/sheets`, { what, name: sheets[what].name, text: sheets[what].text, ...more });
    }
  } catch (problem) {
    status.textContent = `Shown, but not saved to the car: ${problem.detail ?? "the service refused"}`;
  }
}

function showFiles() {
  for (const name of SHEETS) {
    const rows = sheets[name]?.text.split("\n").filter((line) => line.trim()).length;
    form.querySelector(`[data-file=${name}]`).textContent = sheets[name] ? `${sheets[name].name}, ${rows} lines${sheets[name].id ? ", saved to the car" : ""}` : "";
  }
  form.querySelector("[data-forget]").hidden = !Object.keys(sheets).length;
}

/** A picture that the service drew, as an element; nothing in it is run. */
function picture(text) {
  const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return made("figure", { className: "drawn", tabIndex: 0, ariaLabel: "Picture; wider than a phone" }, document.importNode(drawn, true));
}

async function ask() {
  wrong.replaceChildren();
  status.textContent = "Comparing with the run…";
  await readChosen();
  try {
    await sound(form, check);
    const body = installed();
    for (const name of WORDS) if (body[name] === "") delete body[name];
    for (const name of SHEETS) if (sheets[name]) body[name] = sheets[name].text;
    const found = await send("POST", `/api/runs/${section.dataset.run}/bench`, body);
    const parts = ORDER.filter((name) => found[name]).flatMap((name) => {
      const [title, ...rest] = benchTables(name, found[name], section.dataset.system, section.dataset.band.split(" ").filter(Boolean).map(Number), found.sentences);
      return [title, ...(found[name].picture ? [picture(found[name].picture)] : []), ...rest];
    });
    answer.replaceChildren(...parts);
    status.textContent = "";
    await keep();
    showFiles();
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
}

/** Files stand in their fields, also those chosen before this script was there. */
async function readChosen() {
  for (const name of SHEETS) {
    const [file] = form.elements[name].files;
    if (file) sheets[name] = { name: file.name, text: await file.text() };
  }
  showFiles();
}

for (const name of SHEETS) form.elements[name].addEventListener("change", readChosen);

form.querySelector("[data-forget]").addEventListener("click", async () => {
  wrong.replaceChildren();
  try {
    for (const one of Object.values(sheets)) if (one.id) await send("DELETE", `/api/sheets/${one.id}`);
    sheets = {};
    form.reset();
    answer.replaceChildren();
    status.textContent = car ? "All sheets were removed from the car." : "";
  } catch (problem) {
    tell(wrong, problem);
  }
  showFiles();
});

form.addEventListener("submit", (event) => {
  event.preventDefault();
  ask();
});

await recall();
showFiles();
if (Object.keys(sheets).length) ask();
form.querySelector("[type=submit]").disabled = false; // not before this script answers it
