// Limits tried on a car's last run before they are saved: how it stands to each, and what it saw of its channel.
import { send } from "./answers.js";
import { made } from "./tables.js";

function button(text, act) {
  const one = made("button", { type: "button", className: "quiet small", textContent: text });
  one.addEventListener("click", act);
  return one;
}

/** Choose a unit by how it is shown; false where it is not offered. */
function choose(select, label) {
  const option = [...select.options].find((one) => one.text === label);
  if (option) select.value = option.value;
  return Boolean(option) || !label;
}

function showSeen(place, seen, field) {
  const unit = seen.unit ? ` ${seen.unit}` : "";
  const set = (value) => {
    field("value").value = choose(field("unit"), seen.unit) ? value : `${value} ${seen.unit}`;
    field("value").dispatchEvent(new Event("input", { bubbles: true }));
    field("value").closest("details").open = true;
    field("value").focus();
  };
  place.append(
    made("span", { textContent: "From clock start to finish " }),
    button(`${seen.least}${unit}`, () => set(seen.least)),
    " to ",
    button(`${seen.greatest}${unit}`, () => set(seen.greatest)),
    made("span", { textContent: ". Press one to take it as the value." }),
  );
}

function showVerdict(place, tried, field, again) {
  const mark = made("span", { className: `mark is-${tried.mark}`, textContent: tried.text });
  place.append(mark);
  if (tried.longer_than_s === null) return;
  place.append(" Is that what broke it, or a probe that lags? ");
  place.append(
    button(`Only if longer than ${tried.longer_than_s} s`, () => {
      field("longer_than").value = tried.longer_than_s;
      field("longer_than").dispatchEvent(new Event("input", { bubbles: true }));
      again();
    }),
  );
}

/**
 * Let limits be tried. `cards` gives each card as `{field, given}`, `given` null where its value is empty; `readCar` the
 * car as it would be sent.
 */
export function offerTrying(form, cards, readCar) {
  const press = form.querySelector("[data-try]");
  if (!press) return;
  const status = press.parentElement.querySelector(".said");
  async function tryThem() {
    press.disabled = true;
    status.textContent = "Reviewing that run with them…";
    try {
      const car = readCar();
      const answer = await send("POST", `/runs/${encodeURIComponent(form.dataset.run)}/tried`, { ...car, name: car.name || "tried" });
      for (const { place, field, given } of cards()) {
        place.replaceChildren();
        const seen = answer.seen[field("channel").value.trim()];
        if (given && answer.limits[given.name]) showVerdict(place, answer.limits[given.name], field, tryThem);
        else if (!given && seen && field("rule").value !== "curve") showSeen(place, seen, field);
        else if (!given) place.textContent = "Nothing of it was seen in this run.";
      }
      status.textContent = "";
    } catch (problem) {
      status.textContent = `◆ Not tried. ${problem.detail ?? problem}`;
    }
    press.disabled = false;
  }
  press.addEventListener("click", tryThem);
}
