// What a change would have done: asked of the service.
import { send, tell } from "./answers.js";
import { forecast } from "./forecast.js";

const section = document.querySelector("section.bench");
const form = document.getElementById("whatif");
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");
const answer = document.querySelector(".bench-answer");
const WORDS = ["shift_rpm", "mass", "gear_ratios", "tire_circumference", "boost", "power_gain", "search"];

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  wrong.replaceChildren();
  answer.replaceChildren();
  status.textContent = "Driving it again…";
  const body = {};
  for (const name of WORDS) if (form.elements[name].value.trim()) body[name] = form.elements[name].value.trim();
  if (body.search) body.aim = form.elements.aim.value;
  const drive = form.elements.final_drive.value.trim().replace(",", ".");
  if (drive) body.final_drive = Number.isFinite(Number(drive)) ? Number(drive) : drive;
  const air = [...form.querySelectorAll("[data-air]")].filter((field) => field.value.trim());
  if (air.length) body.air = Object.fromEntries(air.map((field) => [field.name, field.value.trim()]));
  const [file] = form.elements.power.files;
  if (file) body.power = await file.text();
  try {
    const told = await send("POST", `/api/runs/${section.dataset.run}/whatif`, body);
    const units = document.querySelector("[data-units][aria-current]")?.dataset.units ?? "us";
    answer.replaceChildren(...forecast(told, units));
    status.textContent = "";
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
});
form.querySelector("[type=submit]").disabled = false; // not before this script answers it
