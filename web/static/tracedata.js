// Runs as the service writes them small, and where a run is at a place: shared by what draws and what reads values.

/** Steps of whole digits back to values; a hole is NaN. */
export function unfold({ digits, steps }) {
  const scale = 10 ** digits;
  let whole = 0;
  return Float64Array.from(steps, (step) => (step === null ? NaN : (whole += step) / scale));
}

/** One run out of the service's answer. */
export function asRun(answer, number) {
  const channels = {};
  for (const [name, one] of Object.entries(answer.channels)) channels[name] = { ...one, values: unfold(one) };
  return { ...answer, number, channels, time: unfold(answer.time), feet: unfold(answer.feet), moved: 0, from: 0 };
}

/** Index of the last row at or before a place; -1 before the first. */
function rowBefore(places, x) {
  let low = -1;
  let high = places.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (places[middle] <= x) low = middle;
    else high = middle;
  }
  return low;
}

/** A value between two rows, straight; null outside the run and in a hole. */
export function valueAt(places, values, x) {
  const row = rowBefore(places, x);
  if (row < 0 || (row === places.length - 1 && x > places[row])) return null;
  const next = Math.min(row + 1, places.length - 1);
  const share = places[next] > places[row] ? (x - places[row]) / (places[next] - places[row]) : 0;
  const value = values[row] + (values[next] - values[row]) * share;
  return Number.isFinite(value) ? value : null;
}

/** A run's places along an axis as they stand, before it is moved. */
export function placesOf(run, along) {
  if (along === "feet") return run.feet;
  return along === "log" ? run.time.map((time) => time + run.log_start_s) : run.time;
}

/** Lay each run so that its shift of that number begins where the first run's does; without one at clock start. */
export function lineUp(runs, along, number) {
  const start = (run) => {
    const shift = number === null ? null : run.shifts[number];
    return shift ? valueAt(run.time, placesOf(run, along), shift.start_s) : null;
  };
  const first = start(runs[0]);
  for (const run of runs) {
    const own = start(run);
    const from = own === null || first === null ? 0 : own - first;
    const by = from - run.moved;
    run.places = by ? placesOf(run, along).map((place) => place - by) : placesOf(run, along);
  }
}

/** The gear a run was in at a time of its own. */
export const gearAt = (run, time) => run.gears.find(([, start, end]) => time !== null && time >= start && time < end)?.[0];
