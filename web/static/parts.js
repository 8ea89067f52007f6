// Parts of a car: named, changed, removed. The counts are the server's.
import { send, tell, work } from "./answers.js";

const page = document.querySelector("[data-car]");
const form = document.querySelector("#part");
const wrong = form.querySelector(".wrong");
const status = form.querySelector("output");
let changing = "";

const speeds = (text) => text.split(/[^0-9.]+/).filter(Boolean).map(Number);

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const given = Object.fromEntries(new FormData(form));
  given.above_rpm = speeds(given.above_rpm);
  status.textContent = "Saving…";
  wrong.replaceChildren();
  try {
    const car = encodeURIComponent(page.dataset.car);
    if (changing) await send("PUT", `/api/parts/${changing}`, given);
    else await send("POST", `/api/cars/${car}/parts`, given);
    location.reload();
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
});

for (const part of document.querySelectorAll("[data-part]")) {
  part.querySelector("[data-change]").addEventListener("click", () => {
    const given = JSON.parse(part.querySelector("script").textContent);
    for (const [name, value] of Object.entries(given)) {
      form.elements[name].value = name === "above_rpm" ? value.join(", ") : name.startsWith("fitted") ? value.slice(0, 10) : value;
    }
    changing = part.dataset.part;
    form.querySelector("[data-legend]").textContent = `Change ${given.name}`;
    form.scrollIntoView({ block: "start" });
    form.elements.name.focus();
  });
  const button = part.querySelector("[data-let-go]");
  const said = part.querySelector("output");
  let given = null;
  button.addEventListener("click", () =>
    work(button, said, "", async () => {
      const address = `/api/parts/${part.dataset.part}`;
      await send(given ? "PUT" : "DELETE", address, given ?? undefined);
      if (given) return location.reload();
      given = JSON.parse(part.querySelector("script").textContent);
      Object.assign(button, { textContent: "Undo", disabled: false });
      said.textContent = "Removed.";
    }));
}
