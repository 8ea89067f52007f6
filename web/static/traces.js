// Traces of one run or several: linked panels that are asked by pointer, touch, wheel and keys, values in a table beside.
import { send, tell } from "./answers.js";
import { made, number as written } from "./tables.js";
import { asRun, gearAt, lineUp, valueAt } from "./tracedata.js";
import { forgetColours, makePanel } from "./tracepanel.js";

const page = document.querySelector("[data-traces]");
const find = (name) => page.querySelector(name);
const [chart, look, at, reply, wrong] = [".chart", ".look input", ".look output", ".reply", ".wrong"].map(find);
const ids = page.dataset.traces.split(",");
const UNITS = { feet: "ft", time: "s", log: "s", rpm: "rpm" };
const STEPS = { feet: 5, time: 0.01, log: 0.01, rpm: 25 };
const units = document.querySelector("[data-units][aria-current]")?.dataset.units ?? "us";

const state = { runs: [], shown: [], along: "feet", view: [0, 1320], whole: [0, 1320], place: 0, panels: [], wheel: false };

async function fetchRun(id, channels) {
  const asked = encodeURIComponent(channels.map((one) => `"${one.replaceAll('"', '""')}"`));
  return send("GET", `/runs/${encodeURIComponent(id)}/lines?units=${units}&channels=${asked}`);
}

/** Where all runs are shown along the axis in force. */
function measureWhole() {
  const all = state.runs.flatMap((run) => {
    const places = state.along === "rpm" ? run.channels.engine_speed?.values.filter(Number.isFinite) : run.places;
    if (!places?.length || !Number.isFinite(places[0])) return [];
    return state.along === "rpm" ? [Math.min(...places), Math.max(...places)] : [places[0], places[places.length - 1]];
  });
  const start = state.along === "feet" ? 0 : Math.min(...all);
  state.whole = [start, Math.max(...all, start + 1)];
}

function settle(whole) {
  const number = find("[data-lineup]").value;
  if (state.along !== "rpm") lineUp(state.runs, state.along, number === "" ? null : Number(number));
  measureWhole();
  if (whole) state.view = [...state.whole];
  Object.assign(look, { min: state.whole[0], max: state.whole[1], step: STEPS[state.along] });
}

const isPlaced = (run) => run.feet.some(Number.isFinite);

/** Where no run's distance is known its traces lie along ET; where some run's is not, say why it has no line. */
function settleAlong() {
  const unplaced = state.runs.filter((run) => !isPlaced(run)).map((run) => run.title);
  if (unplaced.length === state.runs.length) {
    const select = find("[data-along]");
    Object.assign(select.querySelector("[value=feet]"), { disabled: true, textContent: "distance: not known" });
    select.value = state.along = "time";
  } else if (unplaced.length) find("[data-unplaced]").textContent = `Distance is not known of ${unplaced.join(", ")}: drawn along ET, log time and engine speed.`;
}

const panelsWanted = () => [...state.shown, ...(state.runs.length > 1 && state.along === "feet" ? ["behind"] : [])];

/** A task of its own for what comes next, so that a touch between is answered. */
const breath = () => new Promise((done) => setTimeout(done));

let turn = 0;
/** All panels anew, one a task so that the page stays quick. */
async function build() {
  const own = ++turn;
  for (const panel of state.panels) panel.remove();
  state.panels = [];
  chart.replaceChildren();
  const wanted = panelsWanted();
  for (const [place, name] of wanted.entries()) {
    state.panels.push(makePanel(chart, state, name, { last: place === wanted.length - 1, unit: UNITS[state.along] }));
    await breath();
    if (own !== turn) return;
  }
  heads();
  show(state.place);
}

const titleOf = (name) => {
  if (name === "behind") return `Time behind ${state.runs[0].title}, s`;
  const one = state.runs.map((run) => run.channels[name]).find(Boolean);
  return one?.unit ? `${one.title}, ${one.unit}` : (one?.title ?? name);
};

function heads() {
  const moved = state.runs.length > 1 && state.along !== "rpm" ? [`Move by, ${UNITS[state.along]}`] : [];
  const titles = ["Run", ...panelsWanted().map(titleOf), "Gear", ...moved];
  find(".readout thead").replaceChildren(made("tr", {}, ...titles.map((text) => made("th", { scope: "col" }, text))));
  find(".readout tbody").replaceChildren(...state.runs.map((run) => rowOf(run, moved.length)));
}

function rowOf(run, movable) {
  const row = made("tr", {}, made("th", { scope: "row" }, state.runs.length > 1 ? `${run.number + 1} ${run.title}` : run.title));
  for (const _ of [...panelsWanted(), "gear"]) row.append(made("td", {}));
  if (!movable) return row;
  const ariaLabel = `Move ${run.title} by, ${UNITS[state.along]}`;
  const input = made("input", { type: "number", step: STEPS[state.along], value: run.moved, ariaLabel });
  input.addEventListener("change", () => {
    run.moved = Number(input.value) || 0;
    settle(false);
    draw();
  });
  row.append(made("td", {}, input));
  return row;
}

/** The pointer's place in every panel, and what each run had there. */
function show(x) {
  state.place = Math.min(Math.max(x, state.whole[0]), state.whole[1]);
  look.value = state.place;
  const digits = state.along === "feet" || state.along === "rpm" ? 0 : 2;
  at.textContent = `${written(state.place, digits)} ${UNITS[state.along]}`;
  look.setAttribute("aria-valuetext", at.textContent);
  for (const panel of state.panels) panel.point(state.place);
  const rows = find(".readout tbody").rows;
  state.runs.forEach((run, number) => {
    if (!rows[number] || state.along === "rpm") return;
    panelsWanted().forEach((name, place) => {
      const value = name === "behind" ? behind(run, state.place) : run.channels[name] && valueAt(run.places, run.channels[name].values, state.place);
      const shown = name === "behind" ? 3 : run.channels[name]?.digits;
      const sign = name === "behind" && value > 0 ? "+" : "";
      rows[number].cells[place + 1].textContent = value === null || value === undefined ? "–" : sign + written(value, shown);
    });
    rows[number].cells[panelsWanted().length + 1].textContent = gearAt(run, valueAt(run.places, run.time, state.place)) ?? "–";
  });
}

const behind = (run, x) => {
  const [own, first] = [run, state.runs[0]].map((one) => valueAt(one.places, one.time, x));
  return run === state.runs[0] || own === null || first === null ? null : own - first;
};
state.behind = behind;

let waiting = 0;
function draw(moving = false) {
  cancelAnimationFrame(waiting);
  waiting = requestAnimationFrame(() => {
    for (const panel of state.panels) panel.draw(moving);
    show(state.place);
  });
  clearTimeout(draw.later);
  if (moving) draw.later = setTimeout(() => draw(false), 160);
}

/** Look at so much of the whole, never beyond it nor closer than a two-hundredth. */
function lookAt(low, high) {
  const [first, last] = state.whole;
  const width = Math.min(Math.max(high - low, (last - first) / 200), last - first);
  const start = Math.min(Math.max(low, first), last - width);
  state.view = [start, start + width];
  draw(true);
}

function zoom(factor, about = state.place) {
  const [low, high] = state.view;
  const held = Math.min(Math.max(about, low), high);
  lookAt(held - (held - low) * factor, held + (high - held) * factor);
}

const pan = (share) => {
  const by = (state.view[1] - state.view[0]) * share;
  lookAt(state.view[0] + by, state.view[1] + by);
};

function keys(event) {
  const width = state.view[1] - state.view[0];
  const step = event.key === "ArrowLeft" ? -1 : event.key === "ArrowRight" ? 1 : 0;
  if (step && event.shiftKey) pan(step * 0.2);
  else if (step) show(state.place + (step * width) / 200);
  else if (event.key === "+" || event.key === "=") zoom(0.7);
  else if (event.key === "-") zoom(1 / 0.7);
  else if (event.key === "Home" || event.key === "0") lookAt(...state.whole);
  else if (event.key === "Escape") chart.blur(); // the wheel is the page's again
  else return;
  event.preventDefault();
}

const fingers = new Map();
/** One pointer shows the place, or drags what is zoomed; two pinch. */
function moved(event) {
  const panel = state.panels[0];
  if (!panel) return;
  const before = fingers.get(event.pointerId);
  if (before !== undefined) fingers.set(event.pointerId, event.clientX);
  if (fingers.size === 2 && before !== undefined) {
    const [other] = [...fingers].filter(([id]) => id !== event.pointerId).map(([, x]) => x);
    const factor = Math.abs(before - other) / Math.max(Math.abs(event.clientX - other), 1);
    zoom(factor, panel.placeAt((event.clientX + other) / 2));
  } else if (before !== undefined && state.view[1] - state.view[0] < state.whole[1] - state.whole[0]) {
    pan((before - event.clientX) / panel.width());
  } else show(panel.placeAt(event.clientX));
}

function listen() {
  chart.addEventListener("keydown", keys);
  chart.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event.clientX);
    moved(event);
  });
  chart.addEventListener("pointermove", moved);
  for (const name of ["pointerup", "pointercancel", "pointerleave"])
    chart.addEventListener(name, (event) => fingers.delete(event.pointerId));
  chart.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== chart) return; // the page scrolls until the chart is chosen
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.2 : 1 / 1.2, state.panels[0].placeAt(event.clientX));
  }, { passive: false });
  look.addEventListener("input", () => show(Number(look.value)));
  const channels = find(".trace-bar details");
  channels.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !channels.open) return;
    channels.open = false;
    channels.querySelector("summary").focus();
  });
  for (const button of page.querySelectorAll("[data-zoom]"))
    button.addEventListener("click", () =>
      button.dataset.zoom === "all" ? lookAt(...state.whole) : zoom(button.dataset.zoom === "in" ? 0.6 : 1 / 0.6));
  find("[data-along]").addEventListener("change", (event) => {
    state.along = event.target.value;
    for (const run of state.runs) run.moved = 0;
    settle(true);
    state.place = (state.whole[0] + state.whole[1]) / 2;
    build();
  });
  find("[data-lineup]").addEventListener("change", () => {
    settle(true);
    draw();
  });
  let wide = chart.clientWidth;
  new ResizeObserver(() => {
    if (chart.clientWidth === wide) return;
    wide = chart.clientWidth;
    build();
  }).observe(chart);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    forgetColours();
    build();
  });
}

/** Tick boxes of all channels that any run has. */
function offer() {
  const known = new Map(state.runs.flatMap((run) => run.known));
  const boxes = [...known].map(([name, title]) => {
    const box = made("input", { type: "checkbox", value: name, checked: state.shown.includes(name) });
    box.addEventListener("change", () => choose(name, box.checked));
    return made("label", {}, box, ` ${title}`);
  });
  find("[data-picks]").replaceChildren(...boxes);
  const shifts = state.runs[0].shifts.map((shift, number) => new Option(`shift ${shift.name}`, number));
  find("[data-lineup]").append(...shifts);
  find("[data-lineup]").parentElement.hidden = state.runs.length < 2;
}

async function choose(name, wanted) {
  state.shown = state.shown.filter((one) => one !== name);
  if (wanted) {
    const rows = ["engine_speed", ...state.shown, name];
    try {
      const answers = await Promise.all(ids.map((id) => fetchRun(id, rows)));
      state.runs = answers.map((answer, number) => Object.assign(asRun(answer, number), { moved: state.runs[number].moved }));
    } catch (problem) {
      tell(wrong, problem);
      return;
    }
    state.shown.push(name);
    settle(false);
  }
  build();
}

async function begin() {
  const first = ["engine_speed", "boost", "speed_mps"];
  const answers = await Promise.all(ids.map((id) => fetchRun(id, first)));
  state.runs = [];
  for (const [number, answer] of answers.entries()) {
    state.runs.push(asRun(answer, number));
    await breath();
  }
  state.shown = first.filter((name) => state.runs.some((run) => run.channels[name]));
  find(".charts").hidden = false;
  settleAlong();
  settle(true);
  state.place = state.along === "feet" ? Math.round(state.whole[1] / 10) * 5 : (state.whole[0] + state.whole[1]) / 2;
  document.querySelector(".strips")?.toggleAttribute("open", innerWidth > 640); // on a phone the chart comes first
  await breath();
  offer();
  await breath();
  listen();
  await build();
  reply.textContent = "";
}

begin().catch((problem) => {
  reply.textContent = "";
  find(".charts").hidden = true;
  tell(wrong, problem.detail ? problem : { title: "Not drawn", detail: String(problem), findings: [] });
});
