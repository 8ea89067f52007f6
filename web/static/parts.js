// Parts of a car: told, told anew, taken off the list. The counts are the server's.
import { send, tell } from "./answers.js";

const page = document.querySelector("[data-car]");
const form = document.querySelector("#part");
const wrong = form.querySelector(".wrong");
const status = form.querySelector("output");
let changing = "";

const speeds = (text) =>
  text
    .split(/[^0-9.]+/)
    .filter(Boolean)
    .map(Number);

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const told = Object.fromEntries(new FormData(form));
  told.above_rpm = speeds(told.above_rpm);
  status.textContent = "Keeping it…";
  wrong.replaceChildren();
  try {
    const car = encodeURIComponent(page.dataset.car);
    if (changing) await send("PUT", `/api/parts/${changing}`, told);
    else await send("POST", `/api/cars/${car}/parts`, told);
    location.reload();
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
});

for (const part of document.querySelectorAll("[data-part]")) {
  part.querySelector("[data-change]").addEventListener("click", () => {
    const told = JSON.parse(part.querySelector("script").textContent);
    for (const [name, value] of Object.entries(told)) {
      form.elements[name].value = name === "above_rpm" ? value.join(", ") : name.startsWith("fitted") ? value.slice(0, 10) : value;
    }
    changing = part.dataset.part;
    form.querySelector("[data-legend]").textContent = `Change ${told.name}`;
    form.scrollIntoView({ block: "start" });
    form.elements.name.focus();
  });
  const button = part.querySelector("[data-let-go]");
  const said = part.querySelector("output");
  let told = null;
  button.addEventListener("click", async () => {
    const address = `/api/parts/${part.dataset.part}`;
    try {
      if (told) {
        await send("PUT", address, told);
        location.reload();
        return;
      }
      await send("DELETE", address);
      told = JSON.parse(part.querySelector("script").textContent);
      button.textContent = "Undo";
      said.textContent = "Off the list.";
    } catch (problem) {
      said.textContent = `◆ Not done. ${problem.detail ?? problem}`;
    }
  });
}
