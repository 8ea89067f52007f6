// What a change would have done: asked of the service.
import { readGiven, send, tell } from "./answers.js";
import { forecast } from "./forecast.js";
import { givenOf, sound, unitBeside, watch, withUnit } from "./understood.js";

const section = document.querySelector("section.bench");
const form = document.getElementById("whatif");
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");
const answer = document.querySelector(".bench-answer");
const WORDS = ["shift_rpm", "mass", "gear_ratios", "tire_circumference", "boost", "power_gain", "search"];

/** What is asked, each number with the unit beside it. */
function asked() {
  const filled = (name) => form.elements[name].value.trim() !== "";
  const whatif = Object.fromEntries(WORDS.filter(filled).map((name) => [name, withUnit(form.elements[name].value, unitBeside(form, name))]));
  if (filled("final_drive")) whatif.final_drive = givenOf(form, form.elements.final_drive);
  return { whatif, air: readGiven(form.querySelector("[data-part=air]")) };
}

const check = watch(form, asked);

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  wrong.replaceChildren();
  answer.replaceChildren();
  status.textContent = "Simulating…";
  try {
    await sound(form, check);
    const { whatif: body, air } = asked();
    if (body.search) body.aim = form.elements.aim.value;
    if (air) body.air = air;
    const [file] = form.elements.power.files;
    if (file) body.power = await file.text();
    const found = await send("POST", `/api/runs/${section.dataset.run}/whatif`, body);
    const units = document.querySelector("[data-units][aria-current]")?.dataset.units ?? "us";
    answer.replaceChildren(...forecast(found, units));
    status.textContent = "";
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
});
form.querySelector("[type=submit]").disabled = false; // not before this script answers it
