// One panel of the traces: a channel of every run along the axis in force, with band, limits, gears and shifts behind it.
import { valueAt } from "./tracedata.js";

const DASHES = [[], [8, 4], [2, 3], [10, 3, 2, 3], [5, 5], [14, 4], [1, 4], [16, 3, 3, 3, 3, 3], [6, 2], [2, 8], [20, 6], [12, 2, 2, 2]];
const SIX = 6;
const LEAST_BEHIND_S = 0.01; // runs nearer than this are drawn near: less is the noise of two logs

let colours = new Map();
/** Colours are looked up once: each look at the page's style lays the page out anew. */
export const forgetColours = () => (colours = new Map());
export function colour(name) {
  if (!colours.has(name)) colours.set(name, getComputedStyle(document.documentElement).getPropertyValue(name).trim());
  return colours.get(name);
}
const lineColour = (number) => colour(`--run-${number % SIX}`);

/** Values of each run on a grid as fine as the screen. */
function lines(state, name, grid) {
  return state.runs.map((run) => {
    const channel = run.channels[name];
    if (name === "behind") return Array.from(grid, (x) => state.behind(run, x));
    return channel ? Array.from(grid, (x) => valueAt(run.places, channel.values, x)) : Array.from(grid, () => null);
  });
}

function gridOf([low, high], points) {
  return Float64Array.from({ length: points }, (_, place) => low + ((high - low) * place) / (points - 1));
}

/** Band, limits, gears and shifts, drawn before the lines. */
function behindLines(u, state, name) {
  const { ctx, bbox } = u;
  const y = (value) => u.valToPos(value, "y", true);
  const x = (value) => u.valToPos(value, "x", true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  const first = state.runs[0];
  if (name === "engine_speed" && first.band) {
    ctx.globalAlpha = 0.14;
    ctx.fillStyle = colour("--in");
    ctx.fillRect(bbox.left, y(first.band[1]), bbox.width, y(first.band[0]) - y(first.band[1]));
    ctx.globalAlpha = 1;
  }
  for (const bound of first.channels[name]?.bounds ?? []) rule(u, bound, y(bound.at));
  if (state.along !== "rpm") for (const run of state.runs) shiftMarks(u, state, run, x);
  ctx.restore();
}

function rule({ ctx, bbox }, bound, at) {
  const ratio = devicePixelRatio;
  ctx.strokeStyle = boundColour(bound);
  ctx.lineWidth = 1.5 * ratio;
  ctx.setLineDash([6 * ratio, 4 * ratio]);
  ctx.beginPath();
  ctx.moveTo(bbox.left, at);
  ctx.lineTo(bbox.left + bbox.width, at);
  ctx.stroke();
  ctx.setLineDash([]);
}

/** A word over whatever lines run behind it, on a rim of paper. */
function word({ ctx }, text, x, y, { color, align, font }) {
  ctx.font = font;
  ctx.textAlign = align;
  ctx.strokeStyle = colour("--paper");
  ctx.lineWidth = 4 * devicePixelRatio;
  ctx.lineJoin = "round";
  ctx.fillStyle = color;
  ctx.strokeText(text, x, y);
  ctx.fillText(text, x, y);
}

/** What the rules stand for, above each at its right end; a run's gears along the top. */
function names(u, state, name) {
  const { bbox } = u;
  const ratio = devicePixelRatio;
  for (const bound of state.runs[0].channels[name]?.bounds ?? []) {
    const y = u.valToPos(bound.at, "y", true) - 6 * ratio;
    if (y < bbox.top + 8 * ratio || y > bbox.top + bbox.height) continue;
    word(u, bound.name, bbox.left + bbox.width - 4 * ratio, y, { color: boundColour(bound), align: "right", font: `${11 * ratio}px system-ui, sans-serif` });
  }
  if (state.runs.length > 1 || state.along === "rpm") return;
  const [run] = state.runs;
  for (const [gear, start, end] of run.gears) {
    const middle = valueAt(run.time, run.places, (Math.max(start, run.time[0]) + Math.min(end, run.end_s)) / 2);
    if (middle === null || middle < state.view[0] || middle > state.view[1]) continue;
    word(u, gear, u.valToPos(middle, "x", true), bbox.top + 13 * ratio, { color: colour("--ink"), align: "center", font: `bold ${12 * ratio}px system-ui, sans-serif` });
  }
}

const boundColour = (bound) => colour(bound.name === "threshold" ? "--ink" : "--over");

/** Where each shift begins and ends, over the full height for a run alone. */
function shiftMarks(u, state, run, x) {
  const { ctx, bbox } = u;
  const place = (time) => valueAt(run.time, run.places, time);
  ctx.fillStyle = state.runs.length > 1 ? lineColour(run.number) : colour("--ink");
  for (const shift of run.shifts) {
    const [start, end] = [place(shift.start_s), place(shift.end_s)];
    if (start === null || end === null) continue;
    ctx.globalAlpha = state.runs.length > 1 ? 0.8 : shift.kind === "normal" ? 0.14 : 0.3;
    const high = state.runs.length > 1 ? 8 * devicePixelRatio : bbox.height;
    ctx.fillRect(x(start), bbox.top, Math.max(x(end) - x(start), 2), high);
  }
  ctx.globalAlpha = 1;
}

/** Each sample as a dot over engine speed: by gear for a run alone, else by run. */
function cloud(u, state, name) {
  const { ctx } = u;
  const size = 2 * devicePixelRatio;
  for (const run of state.runs) {
    const [rpm, values] = [run.channels.engine_speed?.values, run.channels[name]?.values];
    if (!rpm || !values) continue;
    ctx.fillStyle = lineColour(run.number);
    for (let row = 0; row < rpm.length; row += 1) {
      if (!Number.isFinite(rpm[row] + values[row])) continue;
      if (state.runs.length === 1) ctx.fillStyle = gearColour(gearOf(run, run.time[row]));
      ctx.fillRect(u.valToPos(rpm[row], "x", true) - size / 2, u.valToPos(values[row], "y", true) - size / 2, size, size);
    }
    if (state.runs.length === 1) nameGears(u, run, rpm, values);
  }
}

const gearColour = (gear) => (gear ? lineColour(gear - 1) : colour("--faint"));

/** Each gear's number in its colour, by the sample amid the time it was held. */
function nameGears(u, run, rpm, values) {
  u.ctx.font = `bold ${13 * devicePixelRatio}px system-ui, sans-serif`;
  for (const [gear, start, end] of run.gears) {
    const row = run.time.findIndex((time) => time >= (Math.max(start, run.time[0]) + Math.min(end, run.end_s)) / 2);
    if (row < 0 || !Number.isFinite(rpm[row] + values[row])) continue;
    u.ctx.fillStyle = gearColour(gear);
    u.ctx.fillText(`gear ${gear}`, u.valToPos(rpm[row], "x", true), u.valToPos(values[row], "y", true) - 6 * devicePixelRatio);
  }
}

const gearOf = (run, time) => run.gears.find(([, start, end]) => time >= start && time < end)?.[0];

/** Each line's number at a place of its own, spread over the panel, so that twelve can be kept apart. */
function numbers(u, state) {
  if (state.runs.length < 2) return;
  const apart = Math.min(0.12, 0.92 / state.runs.length);
  state.runs.forEach((run, number) => {
    const values = u.data[number + 1];
    const row = Math.round((values.length - 1) * (0.98 - apart * number));
    if (values[row] === null || values[row] === undefined) return;
    const [x, y] = [u.valToPos(u.data[0][row], "x", true), u.valToPos(values[row], "y", true) - 4 * devicePixelRatio];
    word(u, number + 1, x, y, { color: lineColour(number), align: "right", font: `bold ${12 * devicePixelRatio}px system-ui, sans-serif` });
  });
}

/** Least and greatest of what a panel shows, with a little room. */
function rangeOf(state, name, data) {
  let [low, high] = [Infinity, -Infinity];
  const from = state.along === "rpm" ? state.runs.map((run) => run.channels[name]?.values ?? []) : data.slice(1);
  for (const values of from)
    for (const value of values)
      if (value !== null && Number.isFinite(value)) {
        low = Math.min(low, value);
        high = Math.max(high, value);
      }
  if (low > high) return [0, 1];
  if (name === "behind") [low, high] = [Math.min(low, -LEAST_BEHIND_S), Math.max(high, LEAST_BEHIND_S)];
  const room = (high - low || 1) * 0.06;
  return [low - room, high + room];
}

export function makePanel(chart, state, name, { last, unit }) {
  const holder = document.createElement("div");
  holder.className = "panel";
  const one = state.runs.map((run) => run.channels[name]).find(Boolean);
  const title = document.createElement("p");
  title.className = "panel-title";
  title.textContent = name === "behind" ? `Time behind ${state.runs[0].title} [s]` : one?.unit ? `${one.title} [${one.unit}]` : (one?.title ?? name);
  chart.append(title, holder);
  const wide = chart.clientWidth;
  const points = () => Math.max(Math.round(wide - 60), 100);
  const dataOf = (count) => {
    const grid = state.along === "rpm" ? Float64Array.from(state.view) : gridOf(state.view, count);
    return [grid, ...(state.along === "rpm" ? state.runs.map(() => [null, null]) : lines(state, name, grid))];
  };
  const ticked = (tick) => tick.toLocaleString("en-US", { maximumFractionDigits: 6 }); // as every other figure of the page
  const ink = colour("--ink");
  const axis = { stroke: ink, grid: { stroke: colour("--faint"), width: 1 }, ticks: { stroke: ink, width: 1, size: 4 }, font: "12px system-ui, sans-serif" };
  const nothing = () => null;
  let data = dataOf(points());
  const u = new window.uPlot({
    width: wide,
    height: (wide < 600 ? 130 : 170) + (last ? 28 : 0),
    padding: [8, 16, 0, 0],
    legend: { show: false },
    cursor: { y: false, points: { show: false }, drag: { x: false, y: false }, bind: { mousemove: nothing, mousedown: nothing, mouseup: nothing, mouseleave: nothing, mouseenter: nothing, dblclick: nothing } },
    scales: { x: { time: false, range: () => state.view }, y: { range: () => rangeOf(state, name, data) } },
    axes: [{ ...axis, show: last, size: 28, values: (_, ticks) => ticks.map((tick, n) => ticked(tick) + (n === ticks.length - 1 ? ` ${unit}` : "")) }, { ...axis, size: 52, space: 32, values: (_, ticks) => ticks.map(ticked) }],
    series: [{}, ...state.runs.map((_, number) => ({ stroke: lineColour(number), width: 2, dash: DASHES[number % DASHES.length], points: { show: false } }))],
    hooks: {
      drawAxes: [(plot) => behindLines(plot, state, name)],
      draw: [(plot) => (state.along === "rpm" ? cloud(plot, state, name) : numbers(plot, state)), (plot) => names(plot, state, name)],
    },
  }, data, holder);
  return {
    draw(moving) {
      data = dataOf(moving ? Math.round(points() / 2) : points());
      u.series.forEach((series, number) => {
        if (number) series.dash = moving ? [] : DASHES[(number - 1) % DASHES.length];
      });
      u.setData(data);
    },
    point: (x) => u.setCursor(x < state.view[0] || x > state.view[1] ? { left: -10, top: -10 } : { left: u.valToPos(x, "x"), top: 0 }),
    placeAt: (clientX) => u.posToVal(Math.min(Math.max(clientX - u.over.getBoundingClientRect().left, 0), u.over.clientWidth), "x"),
    width: () => u.over.clientWidth,
    remove: () => u.destroy(),
  };
}
