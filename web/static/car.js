// A car's description: fields as written, limits as cards. A limit without a value is left out, and that is said.
import { send, tell } from "./answers.js";

const form = document.getElementById("car");
const limits = document.getElementById("limits");
const card = document.getElementById("limit");
const known = JSON.parse(document.getElementById("car-told").textContent);
const starting = JSON.parse(document.getElementById("starting-limits").textContent);
const status = form.querySelector("output[role=status]");
const wrong = form.querySelector(".wrong");

const field = (limit, key) => limit.querySelector(`[data-key=${key}]`);
const number = (text) => (text.trim() !== "" && Number.isFinite(Number(text)) ? Number(text) : text.trim());

function showRule(limit) {
  const curve = field(limit, "rule").value === "curve";
  for (const part of limit.querySelectorAll("[data-curve]")) part.hidden = !curve;
  for (const part of limit.querySelectorAll("[data-plain]")) part.hidden = curve;
}

function addCard(values) {
  const limit = card.content.firstElementChild.cloneNode(true);
  for (const [key, value] of Object.entries(values)) {
    const place = field(limit, key);
    if (place && value !== undefined && value !== null) place.value = value;
  }
  if (values.unit) {
    field(limit, "value").placeholder = values.unit;
    field(limit, "points").placeholder = `one a line, value in ${values.unit}`;
  }
  const name = () => limit.setAttribute("aria-label", field(limit, "name").value || "A limit");
  field(limit, "name").addEventListener("input", name);
  field(limit, "rule").addEventListener("change", () => showRule(limit));
  limit.querySelector("[data-remove]").addEventListener("click", () => limit.remove());
  name();
  showRule(limit);
  limits.append(limit);
  return limit;
}

/** A limit as told becomes the values of a card. */
function asCard(told) {
  const curve = told.curve;
  const side = told.at_least != null ? "at_least" : "at_most";
  const when = (told.when ?? []).map((one) =>
    one.at_least != null ? `${one.channel} at least ${one.at_least}` : `${one.channel} at most ${one.at_most}`,
  );
  return {
    name: told.name,
    channel: told.channel,
    rule: curve ? "curve" : side,
    value: curve ? "" : told[side],
    against: curve?.against,
    side: curve?.side,
    points: curve?.points.map(([x, y]) => `${x}, ${y}`).join("\n"),
    during: told.during ?? "run",
    longer_than: told.longer_than || "",
    when: when.join("; "),
  };
}

const CONDITION = /^(.+?)\s+(at least|at most)\s+(.+)$/i;

function readWhen(text, name) {
  return text
    .split(";")
    .map((part) => part.trim())
    .filter(Boolean)
    .map((part) => {
      const found = CONDITION.exec(part);
      if (!found) throw { title: "Not sent", detail: `Limit "${name}": write "only while" as: throttle at least 90 %` };
      return { channel: found[1], [found[2].toLowerCase().replace(" ", "_")]: number(found[3]) };
    });
}

function readPoints(text) {
  return text
    .split("\n")
    .map((line) => line.split(/,\s+|;/).map((part) => number(part)))
    .filter((pair) => pair.length === 2);
}

/** A card becomes a limit as told; null where its value is empty. */
function readCard(limit) {
  const value = (key) => field(limit, key).value.trim();
  const told = { name: value("name") || value("channel"), channel: value("channel"), during: value("during") };
  if (value("rule") === "curve") {
    const points = readPoints(value("points"));
    if (!points.length) return null;
    told.curve = { against: value("against"), points, side: value("side") };
  } else {
    if (value("value") === "") return null;
    told[value("rule")] = number(value("value"));
  }
  const when = readWhen(value("when"), told.name);
  if (when.length) told.when = when;
  if (value("longer_than")) told.longer_than = number(value("longer_than"));
  return told;
}

const LISTS = new Set(["gear_ratios", "rpm_band"]);

function readCar() {
  const told = {};
  for (const input of form.querySelectorAll("input[name], select[name]")) {
    const text = input.value.trim();
    if (text === "") continue;
    told[input.name] = LISTS.has(input.name) ? text.split(/[\s;]+/).map(number) : number(text);
  }
  told.name = form.elements.name.value.trim();
  if (known.channels && Object.keys(known.channels).length) told.channels = known.channels;
  const cards = [...limits.children].map(readCard);
  told.limits = cards.filter(Boolean);
  return { told, left: cards.length - told.limits.length };
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  wrong.replaceChildren();
  status.textContent = "Saving…";
  try {
    const { told, left } = readCar();
    const id = form.dataset.car;
    const car = await send(id ? "PUT" : "POST", id ? `/api/cars/${encodeURIComponent(id)}` : "/api/cars", told);
    form.dataset.car = car.id;
    history.replaceState(null, "", `/cars/${encodeURIComponent(car.id)}`);
    const empty = left ? ` ${left} limit${left > 1 ? "s" : ""} without a value left out.` : "";
    status.textContent = `Saved as version ${car.version}.${empty}`;
  } catch (problem) {
    status.textContent = "";
    tell(wrong, problem);
  }
});

form.querySelector("[data-add]").addEventListener("click", () => field(addCard({}), "name").focus());
form.querySelector("[data-starting]").addEventListener("click", () => {
  const here = new Set([...limits.children].map((limit) => field(limit, "name").value));
  for (const one of starting) {
    if (!here.has(one.name)) addCard({ ...one, when: "" }).classList.add("blank");
  }
});
for (const told of known.limits ?? []) addCard(asCard(told));
