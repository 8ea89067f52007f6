// A car's description: fields as written, limits as cards. A limit without a value is left out, and that is said.
import { offerAgain } from "./again.js";
import { send, tell } from "./answers.js";
import { offerTrying } from "./cartry.js";
import { givenOf, sound, watch, withUnit } from "./understood.js";
import { askWhether, saidWhether, savedAs } from "./whether.js";

const form = document.getElementById("car");
const limits = document.getElementById("limits");
const card = document.getElementById("limit");
const renamed = JSON.parse(document.getElementById("car-channels").textContent);
const layouts = JSON.parse(document.getElementById("car-layouts").textContent); // answers to what logs left open: kept
const kept = JSON.parse(document.getElementById("car-limits").textContent);
const starting = JSON.parse(document.getElementById("starting-limits").textContent);
const channels = JSON.parse(document.getElementById("channel-units").textContent);
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");
const again = form.querySelector(".again");

const field = (limit, key) => limit.querySelector(`[data-key=${key}]`);
const number = (text) => (text.trim() !== "" && Number.isFinite(Number(text)) ? Number(text) : text.trim());
const of = (name) => channels[name] ?? channels[name.replace(/_\d+$/, "")] ?? { units: [], kept: "" };

function showRule(limit) {
  const curve = field(limit, "rule").value === "curve";
  for (const part of limit.querySelectorAll("[data-curve]")) part.hidden = !curve;
  for (const part of limit.querySelectorAll("[data-plain]")) part.hidden = curve;
}

/** The units of a channel beside its number. One that was chosen stays, and one that is not offered is added. */
function offer(select, channel, wanted) {
  const units = of(channel).units;
  const all = wanted && !units.some((one) => one.unit === wanted) ? [...units, { unit: wanted, label: wanted }] : units;
  select.replaceChildren(...all.map((one) => new Option(one.label, one.unit)));
  if (wanted !== undefined && all.some((one) => one.unit === wanted)) select.value = wanted;
  select.dataset.of = JSON.stringify(units);
  select.hidden = !all.length;
}

const UNITS = { unit: "channel", points_unit: "channel", against_unit: "against" };

/**
 * Units beside a card's numbers, made anew where its channel's are others now. A channel that was learnt of keeps the
 * unit that was chosen, whatever it is; one that was exchanged keeps it only if it has it.
 */
function offerUnits(limit, learnt) {
  let anew = false;
  for (const [key, of_what] of Object.entries(UNITS)) {
    const select = field(limit, key);
    const channel = field(limit, of_what).value.trim();
    const { units } = of(channel);
    if (select.dataset.of === JSON.stringify(units)) continue;
    const stays = select.value && (learnt || units.some((one) => one.unit === select.value));
    offer(select, channel, stays ? select.value : undefined);
    anew = true;
  }
  return anew;
}

/** A folded card's line: what it is called, and what it asks for. */
function showLine(limit) {
  const value = (key) => field(limit, key).value.trim();
  const chosen = (key) => (field(limit, key).hidden ? "" : (field(limit, key).selectedOptions[0]?.text ?? ""));
  const points = value("points").split("\n").filter(Boolean).length;
  const bound = value("rule") === "curve" ? points && `along a curve of ${points} points` : value("value") && `${chosen("rule")} ${value("value")} ${chosen("unit")}`.trim();
  const more = [value("longer_than") && `longer than ${value("longer_than")} s`, value("during") !== "run" && chosen("during"), value("when") && `only while ${value("when")}`];
  limit.querySelector("[data-title]").textContent = value("name") || value("channel") || "A limit";
  limit.querySelector("[data-rule]").textContent = bound ? [bound, ...more].filter(Boolean).join(", ") : "no value yet";
}

function addCard(values) {
  const limit = card.content.firstElementChild.cloneNode(true);
  for (const [key, value] of Object.entries(values)) {
    const place = field(limit, key);
    if (place && value !== undefined && value !== null && !key.endsWith("unit")) place.value = value;
  }
  for (const [key, of_what] of Object.entries(UNITS)) offer(field(limit, key), values[of_what] ?? "", values[key]);
  for (const out of limit.querySelectorAll("[data-out]")) out.field = field(limit, out.dataset.out);
  const name = () => limit.setAttribute("aria-label", field(limit, "name").value || "A limit");
  const line = () => (name(), showLine(limit));
  for (const event of ["input", "change"]) limit.addEventListener(event, line);
  field(limit, "rule").addEventListener("change", () => showRule(limit));
  for (const key of ["channel", "against"]) field(limit, key).addEventListener("change", () => offerUnits(limit, false));
  limit.querySelector("[data-remove]").addEventListener("click", () => {
    limit.remove();
    form.querySelector("[data-add]").focus();
    check();
  });
  line();
  showRule(limit);
  limits.append(limit);
  return limit;
}

const written = (text) => text.split(/[;\n]/).map((part) => part.trim()).filter(Boolean);
const bound = (text, unit) => (unit ? withUnit(text, unit) : number(text));

/** A line of a curve: two numbers, parted by anything but a unit. */
function readPair(line, units) {
  const pair = line.trim().split(/\s*[;\t]\s*|,\s+|\s+(?=[-+]?[\d.])/);
  const parts = pair.length === 1 ? line.trim().split(",") : pair;
  return parts.map((part, at) => bound(part, units[at] ?? ""));
}

const readPoints = (text, units) => text.split("\n").filter((line) => line.trim()).map((line) => readPair(line, units));

/** A card becomes a limit as given; null where its value is empty. */
function readCard(limit) {
  const value = (key) => field(limit, key).value.trim();
  const given = { name: value("name") || value("channel"), channel: value("channel"), during: value("during") };
  if (value("rule") === "curve") {
    const points = readPoints(value("points"), [value("against_unit"), value("points_unit")]);
    if (!points.length) return null;
    given.curve = { against: value("against"), points, side: value("side") };
  } else {
    if (value("value") === "") return null;
    given[value("rule")] = bound(value("value"), value("unit"));
  }
  const when = written(value("when"));
  if (when.length) given.when = when;
  if (value("longer_than")) given.longer_than = number(value("longer_than").replace(",", "."));
  return given;
}

const PLACES = { channel: "channel", points: "curve.points", against: "curve.against", when: "when", longer_than: "longer_than" };

/** Where what is understood of a card is to be shown: by its number among the limits that are sent. */
function numberOuts(limit, place) {
  for (const out of limit.querySelectorAll("[data-out]")) {
    const key = out.dataset.out === "value" ? field(limit, "rule").value : PLACES[out.dataset.out];
    if (place === null) {
      delete out.dataset.where;
      out.textContent = "";
      out.field?.setAttribute("aria-invalid", "false");
    } else out.dataset.where = out.dataset.out === "card" ? `car.limits.${place}` : `car.limits.${place}.${key}`;
  }
}

function readCar() {
  const given = {};
  for (const input of form.querySelectorAll("input[name]:not([type=radio]), select[name]")) {
    if (input.value.trim() !== "") given[input.name] = givenOf(form, input);
  }
  given.name = form.elements.name.value.trim();
  if (Object.keys(renamed).length) given.channels = renamed;
  if (Object.keys(layouts).length) given.layouts = layouts;
  given.limits = [];
  for (const one of limits.children) {
    const limit = readCard(one);
    numberOuts(one, limit ? given.limits.length : null);
    if (limit) given.limits.push(limit);
  }
  return given;
}

/** Names that the catalogue knows under other words bring their units with them. */
function learn(answer) {
  askWhether(answer.given?.car ?? {});
  for (const [name, what] of Object.entries(answer.channels)) channels[name] = what;
  const anew = [...limits.children].map((limit) => offerUnits(limit, true));
  for (const limit of limits.children) showLine(limit);
  return anew.includes(true); // a number that stood alone has a unit beside it now
}

const check = watch(form, () => ({ car: readCar() }), learn);

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  wrong.replaceChildren();
  status.textContent = "Saving…";
  try {
    const answer = await sound(form, check);
    const given = answer?.given.car ?? readCar();
    const left = limits.children.length - given.limits.length;
    const id = form.dataset.car;
    const car = await send(id ? "PUT" : "POST", id ? `/api/cars/${encodeURIComponent(id)}?made_of=${form.dataset.version}${saidWhether()}` : "/api/cars", given);
    form.dataset.car = car.id;
    form.dataset.version = car.version;
    if (form.dataset.for) {
      const run = encodeURIComponent(form.dataset.for);
      status.textContent = "Reviewing again…";
      await send("PATCH", `/api/runs/${run}`, { car: car.id });
      location.assign(`/runs/${run}`);
      return;
    }
    history.replaceState(null, "", `/cars/${encodeURIComponent(car.id)}`);
    const empty = left ? ` ${left} limit${left > 1 ? "s" : ""} without a value left out.` : "";
    const changed = saidWhether().endsWith("changed");
    savedAs(car);
    status.textContent = `Saved as version ${car.version}.${empty}`;
    if (changed) status.textContent += " Runs made before the change keep the version that they ran with.";
    else offerAgain(again, car.id, car.version);
  } catch (problem) {
    status.textContent = "";
    if (problem.now) form.dataset.version = problem.now.version; // told of the newer one, they may save again
    tell(wrong, problem);
  }
});

form.querySelector("[data-add]").addEventListener("click", () => {
  const limit = addCard({});
  limit.querySelector("details").open = true;
  field(limit, "channel").focus();
});
form.querySelector("[data-starting]").addEventListener("click", () => {
  const here = new Set([...limits.children].map((limit) => field(limit, "name").value));
  for (const one of starting) {
    if (!here.has(one.name)) addCard({ ...one, when: "" });
  }
});
/** A few cards at a time: a slow phone stays at hand meanwhile. */
async function addKept() {
  for (const [at, values] of kept.entries()) {
    if (at % 2 === 1) await new Promise((later) => setTimeout(later));
    addCard(values);
  }
  if (form.dataset.car) check();
}

const cards = () =>
  [...limits.children].map((limit) => ({
    place: limit.querySelector("[data-tried]"),
    field: (key) => field(limit, key),
    given: readCard(limit),
  }));
offerTrying(form, cards, readCar);
addKept();
if (form.dataset.car) offerAgain(again, form.dataset.car, Number(form.dataset.version));
