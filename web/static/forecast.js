// What a change would have done, as tables and bars: each picture has its numbers beside it, the text to copy comes last.

import { begun, drawn, estimate, half, made, number, printed, said, signed, table } from "./tables.js";

const SPEED = { us: { label: "mph", scale: 0.44704 }, metric: { label: "km/h", scale: 1 / 3.6 } };
const WIDE = 120;

function changed(answer, units) {
  if (!answer.elapsed_time_s) return [];
  const { label, scale } = SPEED[units];
  const rows = answer.splits.map((one) => [`${number(one.at_ft)} ft s`, estimate(one.difference_s, 1, 3)]);
  rows.push([`trap ${label}`, estimate(answer.trap_speed_mps, scale, 2)]);
  if (answer.time_in_band_s) rows.push(["in band s", estimate(answer.time_in_band_s, 1, 2)]);
  if (answer.time_on_boost_s) rows.push(["on boost s", estimate(answer.time_on_boost_s, 1, 2)]);
  const shifts = answer.shifts.map((one) => [
    one.name, number(one.rpm_after), estimate(one.difference_rpm, 1, 0),
    one.margin_to_band_low_rpm === null ? "–" : signed(one.margin_to_band_low_rpm, 0),
  ]);
  const { value, plus_minus: half_s } = answer.elapsed_time_s;
  const within = Math.abs(value) <= half_s;
  const first = `${within ? "No difference in ET that can be told" : `ET ${Math.abs(value).toFixed(3)} s ${value < 0 ? "quicker" : "slower"}`}, ±${half_s.toFixed(3)} s.`;
  const made_ = [made("p", { className: "first", textContent: first }), table("Changed, less as it ran; minus is quicker", [], rows)];
  if (shifts.length) made_.push(table("Engine speed after each shift, rpm", ["Shift", "After", "Change", "Above the band's low end"], shifts));
  return made_;
}

function bar(share) {
  const filled = drawn("rect", { x: 0, y: 1, width: Math.max(0, WIDE * share), height: 10, fill: "currentColor" });
  return drawn("svg", { viewBox: `0 0 ${WIDE} 12`, preserveAspectRatio: "none", height: 12, "aria-hidden": "true" }, filled);
}

function worth(classes) {
  if (!classes.length) return [];
  const most = Math.max(...classes.map((one) => one.elapsed_s), 1e-9);
  const rows = classes.map((one) => [
    `${number(one.from_rpm)}–${number(one.to_rpm)}${one.launch ? ", launch" : ""}`, bar(one.elapsed_s / most),
    made("span", {}, (1000 * one.elapsed_s).toFixed(1), half(1000 * one.elapsed_plus_minus_s, 1)),
  ]);
  return [table("What 1 % more torque would gain, by engine speed", ["rpm", "", "ms"], rows)];
}

const valueWords = (value, what) =>
  Array.isArray(value) ? value.join("/") : what.startsWith("shift") ? `${signed(value, 0)} rpm` : String(value);

/** What was tried, one dot a value over the time that the model gives it; its lowest is filled. */
function picture(one) {
  const numbers = one.tried.filter(({ value }) => typeof value === "number");
  if (numbers.length < 3) return [];
  const [xs, ys] = [numbers.map(({ value }) => value), numbers.map(({ elapsed_s: s }) => 1000 * s)];
  const [left, right, low, high] = [Math.min(...xs), Math.max(...xs), Math.min(...ys, 0), Math.max(...ys, 0)];
  const [from, to] = [left, right].map((value) => valueWords(value, one.what));
  const said = `${one.what}: from ${from} to ${to}, change of ET from ${low.toFixed(0)} to ${high.toFixed(0)} ms; the values stand in the table`;
  const svg = drawn("svg", { viewBox: "0 0 320 96", class: "tried-picture", role: "img", "aria-label": said });
  const draw = (...part) => svg.append(drawn(...part));
  const x = (value) => 44 + (264 * (value - left)) / (right - left || 1);
  const y = (value) => 10 + (62 * (high - value)) / (high - low || 1);
  draw("line", { x1: 40, x2: 312, y1: y(0), y2: y(0), stroke: "currentColor", "stroke-dasharray": "4 3" });
  for (const [at, value] of ys.entries())
    draw("circle", { cx: x(xs[at]), cy: y(value), r: 3.5, stroke: "currentColor", fill: value === low && value < 0 ? "currentColor" : "none" });
  draw("text", { x: 36, y: y(high) + 4, "text-anchor": "end" }, `${signed(high, 0)} ms`);
  if (y(low) - y(high) > 16) draw("text", { x: 36, y: y(low) + 4, "text-anchor": "end" }, signed(low, 0));
  draw("text", { x: x(left), y: 92, "text-anchor": "start" }, from);
  draw("text", { x: x(right), y: 92, "text-anchor": "end" }, to);
  return [svg];
}

function searched(found, sentences) {
  return found.flatMap((one) => {
    const best = one.best === null ? "Nothing tried beats the run as it was by more than chance"
      : `${valueWords(one.best, one.what)} predicts ET ${signed(1000 * one.promised_s.value, 0)} ±${(1000 * one.promised_s.plus_minus).toFixed(0)} ms; ${signed(1000 * one.left_s, 0)} ms after allowing for the luck of trying many${one.under_band_s === null ? "" : `; time under the band ${signed(one.under_band_s, 2)} s`}`;
    const rows = one.tried.map((tried) => [valueWords(tried.value, one.what), signed(1000 * tried.elapsed_s, 0), tried.under_band_s === null ? "–" : signed(tried.under_band_s, 2)]);
    const all = made("details", {}, made("summary", { textContent: "All values tried" }),
      table(`${begun(one.what)}: by the model alone, each ±10 ms and 12 %`, ["Value", "ET ms", "under band s"], rows));
    const texts = [...new Set(one.findings.map(({ text }) => sentences[text] ?? text))].map((text) => made("p", { className: "say", textContent: text }));
    return [made("h2", { textContent: begun(one.what) }), made("p", { textContent: `${best}.` }), ...picture(one), ...(rows.length ? [all] : []), ...texts];
  });
}

/** All of an answer, in the reader's units. */
export function forecast(answer, units) {
  const breaks = ({ code }) => code === "whatif-breaks-limit";
  const [broken, rest] = [answer.findings.filter(breaks), answer.findings.filter((one) => !breaks(one))];
  return [
    ...said(broken, answer.sentences, "banner"), ...changed(answer, units), ...said(rest, answer.sentences), ...searched(answer.searched, answer.sentences),
    ...worth(answer.worth), printed(answer.print, "The forecast as text"),
  ];
}
