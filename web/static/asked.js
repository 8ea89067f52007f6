// Questions about columns: answered in place where scripts run; the same forms are sent as they are where they do not.
import { send, work } from "./answers.js";

/** What the form answers. */
function answersIn(form) {
  const of = (name) => [...form.querySelectorAll(`[name="${name}"]`)].map((one) => one.value);
  const [layouts, columns, said, units, taken, read] = ["layout", "column", "channel", "unit", "taken", "read"].map(of);
  const back = Boolean(form.elements.takes_back);
  // a unit chosen alone: the channel is as taken
  const channels = said.map((one, at) => one || (units[at] !== read[at] ? (taken[at] ?? "") : ""));
  const answers = columns
    .map((column, at) => ({ layout: layouts[at], column, channel: back ? null : channels[at], unit: back ? "" : units[at] }))
    .filter((one) => back || one.channel);
  const car = form.elements.car?.value || null;
  return { answers, car, new_car: car ? "" : (form.elements.new_car?.value ?? "") };
}

async function answer(form) {
  const [button, status] = [form.querySelector("button[type=submit]"), form.querySelector("output")];
  const body = answersIn(form);
  if (!body.answers.length && !form.elements.back) {
    status.textContent = "Nothing was answered.";
    return;
  }
  await work(button, status, "Reviewing again…", async () => {
    const { run } = await send("POST", `/api${new URL(form.action).pathname}`, body);
    location.assign(`/runs/${encodeURIComponent(form.elements.back?.value ?? run.id)}?answered=1#asked`);
    if (location.search === "?answered=1" && location.hash === "#asked") location.reload();
  });
}

document.addEventListener("submit", (event) => {
  const form = event.target.closest("[data-answers]");
  if (!form) return;
  event.preventDefault();
  answer(form);
});

/** The questions of a run, as its page asks them; null where it asks none. */
export async function questionsOf(run) {
  const page = await fetch(`/runs/${encodeURIComponent(run.id)}`);
  if (!page.ok) return null;
  return new DOMParser().parseFromString(await page.text(), "text/html").getElementById("asked");
}
