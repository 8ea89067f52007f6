// All runs of a car reviewed again with its newest version, one after another, with a bar.
import { send } from "./answers.js";

async function runsOf(car, version) {
  const found = [];
  let after = "";
  do {
    const page = await send("GET", `/api/runs?car=${encodeURIComponent(car)}${after && `&after=${encodeURIComponent(after)}`}`);
    found.push(...page.runs.filter((run) => run.car && run.car.version < version));
    after = page.next;
  } while (after);
  return found;
}

/** Offer it where runs were reviewed with an older version than this. */
export async function offerAgain(place, car, version) {
  const [button, status, bar] = ["button", ".said", "progress"].map((tag) => place.querySelector(tag));
  const runs = await runsOf(car, version).catch(() => []);
  place.hidden = !runs.length;
  if (!runs.length) return;
  const many = (count) => (count === 1 ? "1 run" : `${count} runs`);
  button.textContent = `Review ${many(runs.length)} again with version ${version}`;
  let stopped = false;
  button.onclick = async () => {
    if (!bar.hidden) {
      stopped = true;
      return;
    }
    stopped = false;
    bar.hidden = false;
    bar.max = runs.length;
    button.textContent = "Stop";
    const failed = [];
    let done = 0;
    for (const run of runs) {
      if (stopped) break;
      status.textContent = `${done + 1} of ${runs.length}: ${run.label || run.round || run.log_names[0]}`;
      await send("PATCH", `/api/runs/${encodeURIComponent(run.id)}`, {}).catch((problem) => failed.push(`${run.label || run.round}: ${problem.detail}`));
      bar.value = done += 1;
    }
    bar.hidden = true;
    await offerAgain(place, car, version);
    place.hidden = false;
    const faults = failed.length ? ` ◆ Not done: ${failed.join("; ")}` : "";
    status.textContent = `${many(done - failed.length)} reviewed with version ${version}.${faults}`;
    button.hidden = !failed.length && !stopped;
  };
}
