// A bench's sheets and a compressor's map, read here as text, laid beside the run by the service, remembered for the car.
import { send, tell } from "./answers.js";

const section = document.querySelector("section.bench");
const form = document.getElementById("bench");
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");
const answer = document.querySelector(".bench-answer");
const kept = `bench ${section.dataset.car || section.dataset.run}`;
const SHEETS = ["flow_sheet", "dynamometer", "compressor_map"];
const WORDS = ["volumetric_efficiency", "inlet_loss", "charge_loss", "compressors"];
let sheets = {};

function recall() {
  try {
    return JSON.parse(localStorage.getItem(kept)) ?? {};
  } catch {
    return {};
  }
}

function keep() {
  const all = { sheets, words: Object.fromEntries(WORDS.map((name) => [name, form.elements[name].value])) };
  try {
    localStorage.setItem(kept, JSON.stringify(all));
  } catch {
    status.textContent = "This browser keeps nothing: the sheets must be chosen again next time.";
  }
}

function showFiles() {
  for (const name of SHEETS) {
    const rows = sheets[name]?.text.split("\n").filter((line) => line.trim()).length;
    form.querySelector(`[data-file=${name}]`).textContent = sheets[name] ? `${sheets[name].name}, ${rows} lines` : "";
  }
}

/** A picture that the service drew, as an element; nothing in it is run. */
function picture(text) {
  const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  const figure = document.createElement("figure");
  figure.className = "drawn";
  figure.append(document.importNode(drawn, true));
  return figure;
}

function page(text) {
  const scroll = document.createElement("div");
  scroll.className = "scroll";
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", "Figures");
  const print = document.createElement("pre");
  print.textContent = text;
  scroll.append(print);
  return scroll;
}

async function ask() {
  wrong.replaceChildren();
  status.textContent = "Laying them beside the run…";
  await readChosen();
  const body = { compressors: Number(form.elements.compressors.value) || 1 };
  for (const name of WORDS.slice(0, 3)) if (form.elements[name].value.trim()) body[name] = form.elements[name].value;
  for (const name of SHEETS) if (sheets[name]) body[name] = sheets[name].text;
  try {
    const told = await send("POST", `/api/runs/${section.dataset.run}/bench`, body);
    const parts = [told.compressor_map, told.dynamometer, told.head].filter(Boolean);
    answer.replaceChildren(...parts.flatMap((one) => [...(one.picture ? [picture(one.picture)] : []), page(one.print)]));
    status.textContent = "";
    keep();
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

form.querySelector("[data-forget]").addEventListener("click", () => {
  sheets = {};
  form.reset();
  localStorage.removeItem(kept);
  answer.replaceChildren();
  showFiles();
});

form.addEventListener("submit", (event) => {
  event.preventDefault();
  ask();
});

const before = recall();
sheets = before.sheets ?? {};
for (const [name, value] of Object.entries(before.words ?? {})) if (form.elements[name]) form.elements[name].value = value;
showFiles();
if (Object.keys(sheets).length) ask();
form.querySelector("[type=submit]").disabled = false; // not before this script answers it
