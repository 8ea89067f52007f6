// One thing said wrong of many runs: put right of all at once, and taken back.
import { send, work } from "./answers.js";

const KEPT = "put right";
const form = document.querySelector("#right");
const output = (button) => button.parentElement.querySelector("output");

/** What became of it, run by run, is told over the reload that shows the runs as they now are. */
async function ask(address, done, body) {
  const { turned } = await send("POST", address, body).catch((problem) => {
    throw `${problem.detail} Load this page again to see which runs were changed before that.`;
  });
  const left = turned.filter((one) => !one.changed).map((one) => one.why);
  sessionStorage.setItem(KEPT, `${turned.length - left.length} of ${turned.length} ${done}.${left.length ? ` Left as they were: ${[...new Set(left)].join(" ")}` : ""}`);
  location.reload();
}

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const change = {};
  for (const [key, value] of new FormData(form)) {
    if (value.trim()) change[key] = key === "event" ? value.trim() : value === "none" ? null : key === "finish_ft" ? Number(value) : value;
  }
  const runs = form.dataset.runs.split(",");
  const button = form.querySelector("button");
  work(button, output(button), `Reviewing ${runs.length} again…`, () => ask("/api/put-right", "put right", { runs, change }));
});
for (const button of document.querySelectorAll("[data-undo]")) {
  button.addEventListener("click", () => work(button, output(button), "Putting back…", () => ask(`/api/put-right/${button.dataset.undo}/undo`, "put back")));
}
const said = sessionStorage.getItem(KEPT);
sessionStorage.removeItem(KEPT);
if (said) document.querySelector("[data-said]").textContent = said;
for (const button of document.querySelectorAll("main button")) button.disabled = false; // not before this script answers it
