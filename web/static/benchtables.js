// A bench's sheets and a compressor's map beside a run, as tables in the reader's units.
import { begun, estimate, half, made, number, printed, said, signed, table } from "./tables.js";

const FOOT_M = 0.3048;
const POUND_KG = 0.45359237;
const UNITS = {
  us: {
    flow: ["cfm", FOOT_M ** 3 / 60, 0], power: ["hp", 550 * FOOT_M * POUND_KG * 9.80665, 0], speed: ["mph", 0.44704, 2],
    pressure: ["psi", (POUND_KG * 9.80665) / 0.0254 ** 2, 1], lift: ["in", 0.0254, 3], air: ["lb/min", POUND_KG / 60, 1],
    gas: ["ft/s", FOOT_M, 0], piston: ["ft/min", FOOT_M / 60, 0], place: ["ft", FOOT_M, 0],
  },
  metric: {
    flow: ["L/s", 0.001, 1], power: ["kW", 1000, 0], speed: ["km/h", 1 / 3.6, 2], pressure: ["kPa", 1000, 0], lift: ["mm", 0.001, 1],
    air: ["kg/s", 1, 3], gas: ["m/s", 1, 0], piston: ["m/s", 1, 1], place: ["ft", FOOT_M, 0],
  },
};
const or = (value, write) => (value === null || value === undefined ? "–" : write(value));
const percent = (ratio) => or(ratio, (value) => `${signed(100 * (value - 1), 1)} %`);
const heading = (text) => made("h2", { textContent: text });
const sentence = (text) => made("p", { textContent: text });

/** How a figure is written, and the head of its column. */
const shown = (units) => {
  const of = (kind, value) => or(value, (si) => number(si / UNITS[units][kind][1], UNITS[units][kind][2]));
  return { of, unit: (kind) => UNITS[units][kind][0], scale: (kind) => UNITS[units][kind][1], digits: (kind) => UNITS[units][kind][2] };
};

function head(part, units) {
  const { of, unit } = shown(units);
  const rows = part.rows.map((one) => [
    of("lift", one.lift_m), or(one.lift_over_diameter, (x) => number(x, 2)), of("flow", one.intake_m3ps), of("flow", one.exhaust_m3ps),
    or(one.exhaust_over_intake, (x) => number(x, 2)), or(one.curtain_coefficient, (x) => number(x, 2)), or(one.seat_coefficient, (x) => number(x, 2)),
  ]);
  const titles = [`Lift ${unit("lift")}`, "Lift over diameter", `Intake ${unit("flow")}`, `Exhaust ${unit("flow")}`, "Exhaust over intake", "Cd, curtain", "Cd, seat"];
  const parts = [heading(`Flow sheet: ${part.name}`), table("Discharge coefficients (Cd) of the intake: on the valve's curtain, and on its circle less the stem", titles, rows)];
  if (part.seat_m2) {
    const [curtain, seat] = [part.curtain_m2, part.seat_m2].map((one) => number(1e4 * one, 1));
    parts.push(sentence(`A cylinder's intake valves: curtain ${curtain} cm² at the highest lift, circle less the stem ${seat} cm²; there the ${part.seat_m2 < part.curtain_m2 ? "circle" : "curtain"} is the narrower.`));
  }
  const per = [part.piston_speed_at_1000_rpm_mps, part.gas_speed_at_1000_rpm_mps, part.mach_index_at_1000_rpm];
  if (per.includes(null) || part.rpm_at_limit === null) parts.push(sentence("Gas speed and inlet Mach index are not known: they take bore and stroke of the car, and the sheet's valves."));
  else {
    const [piston, gas, index] = per.map((one) => one / 1000);
    const speeds = [part.rpm_at_limit, ...part.band_rpm].sort((a, b) => a - b);
    parts.push(table("At the ends of the band, and where the inlet Mach index comes to 0.6: beyond it cylinders fill less and less (C. F. Taylor)",
      ["rpm", `Piston ${unit("piston")}`, `Intake ${unit("gas")}`, `Port ${unit("gas")}`, "Mach index"],
      speeds.map((rpm) => [number(rpm), of("piston", piston * rpm), of("gas", gas * rpm), or(part.port_speed_at_1000_rpm_mps, (port) => of("gas", port / 1000 * rpm)), number(index * rpm, 2)])));
  }
  return parts;
}

function headChange(part, units) {
  const { of, unit } = shown(units);
  const rows = part.rows.map((one) => [of("lift", one.lift_m), percent(one.intake), percent(one.exhaust)]);
  return [heading("Flow, after over before"), table("At the same lift and depression", [`Lift ${unit("lift")}`, "Intake", "Exhaust"], [...rows, ["all", percent(part.intake), percent(part.exhaust)]])];
}

function peak(name, at, off, share) {
  if (at === null) return `${name}: no curve.`;
  const past = share === null ? "" : `; ${number(100 * share)} % of the pulling time is spent past it`;
  return `${name}: peak at ${number(at)} rpm, ${off === null ? "and it does not fall to 95 % of it before the curve ends" : `95 % of it at ${number(off)} rpm${past}`}.`;
}

function dynamometer(part, units) {
  const { of, unit, scale } = shown(units);
  const rows = part.points.map((one) => [
    number(one.engine_rpm), of("power", one.bench_w), made("span", {}, of("power", one.track_w), half(one.track_plus_minus_w / scale("power"), 0)),
    or(one.track_over_bench, (x) => number(x, 3)), number(one.time_s, 2), of("pressure", one.manifold_pa),
  ]);
  return [
    heading("Dynamometer and track"),
    table("Power at the flywheel by engine speed", ["rpm", `Bench ${unit("power")}`, `Track ${unit("power")}`, "Track over bench", "Time s", `Manifold ${unit("pressure")}`], rows),
    sentence(peak("Bench", part.bench_peak_rpm, part.bench_falls_off_rpm, part.share_past_bench)),
    sentence(peak("Track", part.track_peak_rpm, part.track_falls_off_rpm, part.share_past_track)),
  ];
}

function dynamometerChange(part, units, sentences) {
  const { of, unit, scale, digits } = shown(units);
  const rows = part.rows.map((one) => [number(one.engine_rpm), of("power", one.before_w), of("power", one.after_w), percent(one.after_w / one.before_w)]);
  const parts = [heading("Power, after over before"), table("As the two sheets say it", ["rpm", `Before ${unit("power")}`, `After ${unit("power")}`, "Change"], rows)];
  const track = part.on_track;
  if (track?.elapsed_time_s) {
    parts.push(table("The same shares of power in this run: a forecast", [], [
      ["ET s", estimate(track.elapsed_time_s, 1, 3)], [`trap ${unit("speed")}`, estimate(track.trap_speed_mps, scale("speed"), digits("speed"))],
    ]));
  } else if (track) parts.push(...said(track.findings, sentences));
  return parts;
}

const temperature = (kelvin, units) => (units === "us" ? `${number((kelvin - 273.15) * 1.8 + 32)} °F` : `${number(kelvin - 273.15)} °C`);

function compressor(part, units) {
  const { of, unit } = shown(units);
  const range = (values, write) => `${write(Math.min(...values))} to ${write(Math.max(...values))}`;
  const rows = [
    ["Mean efficiency", or(part.mean_efficiency, (x) => `${number(100 * x, 1)} %`)],
    [`Corrected flow of each compressor, ${unit("air")}`, range(part.flow_kgps, (x) => of("air", x))],
    ["Pressure ratio", range(part.pressure_ratio, (x) => number(x, 2))],
  ];
  if (part.highest_outlet_k !== null) rows.push(["Hottest at its outlet, by the map's efficiency", temperature(part.highest_outlet_k, units)]);
  if (part.cooler_effectiveness !== null) rows.push(["Of that heating gone at the manifold (the probe lags)", `${number(100 * part.cooler_effectiveness)} %`]);
  if (part.time_off_s) rows.push(["Time above or below all speed lines", `${number(part.time_off_s, 2)} s`]);
  const margins = ["surge", "choke"].map((name) => {
    const one = part[name];
    if (!one) return [name, "–", "no speed line comes to the run's pressure ratios there", "–"];
    const where = `${number(one.at_s, 2)} s, ${of("place", one.at_m)} ft${one.gear === null ? "" : `, gear ${one.gear}`}`;
    return [begun(name), made("span", {}, number(100 * one.margin.value), half(100 * one.margin.plus_minus, 0), " %"), where, number(part[`time_past_${name}_s`], 2)];
  });
  return [
    heading("The run on the compressor's map"), table("Over the whole run, shifts left out", [], rows),
    table("Least margins", ["To", "Margin", "Where", "Past it, s"], margins),
    table("Time by efficiency", ["Efficiency", "s"], part.efficiency_time.map((one) => [`${number(100 * one.least)}–${number(100 * one.most)} %`, number(one.time_s, 2)])),
  ];
}

const WRITE = { compressor_map: compressor, head_change: headChange, dynamometer_change: dynamometerChange, dynamometer, head };

/** One part of an answer under its picture; what is printed of it comes last. */
export function benchTables(name, part, units, band, sentences) {
  const figures = { ...part.figures, band_rpm: band };
  return [...WRITE[name](figures, units, sentences), ...said(part.figures.findings, sentences), printed(part.print, `The figures as text: ${name.replace("_", " ")}`)];
}
