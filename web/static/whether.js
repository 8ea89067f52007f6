// Whether what differs from the version before was changed on the car, or only describes the same car better.
import { send, tell } from "./answers.js";

const { before, titles } = JSON.parse(document.getElementById("car-facts").textContent);
const place = document.getElementById("whether");
const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

/** Ask about the facts of a car as it would be saved; nothing where none of them differs. */
export function askWhether(car) {
  const differ = Object.keys(before).filter((fact) => car[fact] !== undefined && !same(before[fact], car[fact]));
  place.hidden = !differ.length;
  place.querySelector("b").textContent = differ.map((fact) => titles[fact]).join(", ");
}

/** What was answered, as a further part of the car's address. */
export function saidWhether() {
  const said = place.hidden ? null : place.querySelector("input:checked");
  return said ? `&facts=${said.value}` : "";
}

/** The version that was saved is the one before now. */
export function savedAs(car) {
  for (const fact of Object.keys(titles)) if (fact in before || fact in car) before[fact] = car[fact];
  place.hidden = true;
  for (const one of place.querySelectorAll("input")) one.checked = false;
}

for (const select of document.querySelectorAll("select[data-fact]")) {
  select.addEventListener("change", async () => {
    const said = select.closest("p").querySelector(".said");
    const car = encodeURIComponent(document.getElementById("car").dataset.car);
    said.textContent = "Saving…";
    try {
      await send("PUT", `/api/cars/${car}/versions/${select.dataset.version}/facts`, { [select.dataset.fact]: select.value });
      said.textContent = "Saved.";
    } catch (problem) {
      said.textContent = "";
      tell(said, problem);
    }
  });
}
