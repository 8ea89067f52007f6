// One thing said wrong of many runs: put right of all at once, and taken back.
import { send, tell } from "./answers.js";

const KEPT = "put right";
const form = document.querySelector("#right");

/** What became of it, run by run, over the reload that shows the runs as they now are. */
function told({ turned }, words) {
  const left = turned.filter((one) => !one.changed);
  return `${turned.length - left.length} of ${turned.length} ${words}.${left.length ? ` Left as they were: ${[...new Set(left.map((one) => one.why))].join(" ")}` : ""}`;
}

async function work(button, place, address, body, [doing, done]) {
  button.disabled = true;
  place.textContent = doing;
  try {
    sessionStorage.setItem(KEPT, told(await send("POST", address, body), done));
    location.reload();
  } catch (problem) {
    button.disabled = false;
    place.textContent = "";
    tell(document.querySelector(".wrong") ?? place, { ...problem, detail: `${problem.detail} Load this page again to see which runs were changed before that.` });
  }
}

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const given = [...new FormData(form)].filter(([, value]) => value.trim());
  const change = Object.fromEntries(given.map(([key, value]) => [key, value === "none" && key !== "event" ? null : key === "finish_ft" ? Number(value) : value]));
  const button = form.querySelector("button");
  const runs = form.dataset.runs.split(",");
  work(button, form.querySelector("output"), "/api/put-right", { runs, change }, [`Reviewing ${runs.length} again, half a second each…`, "put right"]);
});
for (const button of document.querySelectorAll("[data-undo]")) {
  button.addEventListener("click", () => {
    work(button, button.parentElement.querySelector("output"), `/api/put-right/${button.dataset.undo}/undo`, undefined, ["Putting back…", "put back"]);
  });
}
const said = sessionStorage.getItem(KEPT);
sessionStorage.removeItem(KEPT);
if (said) document.querySelector("output").textContent = said;
