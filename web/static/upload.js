// Logs in: dropped or chosen, sent with progress, then straight to the review.
import { readAllGiven, readProblem, readGiven, tell } from "./answers.js";
import { asProblem, goToFault, watch } from "./understood.js";

const form = document.getElementById("upload");
const drop = document.getElementById("drop");
const picker = form.querySelector("input[type=file]");
const chosen = form.querySelector(".chosen");
const button = form.querySelector("button[type=submit]");
const progress = form.querySelector(".progress");
const bar = progress.querySelector("progress");
const told = form.querySelector(".told");
const wrong = form.querySelector(".wrong");

function size(bytes) {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

function showChosen() {
  chosen.replaceChildren(
    ...[...picker.files].map((file) => {
      const item = document.createElement("li");
      item.textContent = `${file.name}, ${size(file.size)}`;
      return item;
    }),
  );
}

picker.addEventListener("change", showChosen);
for (const kind of ["dragenter", "dragover"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  picker.files = event.dataTransfer.files;
  showChosen();
});

function details() {
  const said = { finish_ft: Number(form.elements.finish_ft.value) };
  for (const name of ["label", "event", "round"]) {
    if (form.elements[name].value.trim()) said[name] = form.elements[name].value.trim();
  }
  for (const fieldset of form.querySelectorAll("[data-told]")) {
    const filled = readGiven(fieldset);
    if (filled) said[fieldset.dataset.told] = filled;
  }
  return said;
}

function body() {
  const parts = new FormData();
  if (form.elements.car.value) parts.append("car", form.elements.car.value);
  parts.append("details", JSON.stringify(details()));
  for (const file of picker.files) parts.append("log", file, file.name);
  return parts;
}

function showRuns(answer) {
  if (answer.runs.length === 1 && !answer.already) {
    location.assign(`/runs/${encodeURIComponent(answer.runs[0].id)}`);
    return;
  }
  const links = answer.runs.map((run, number) => {
    const link = document.createElement("a");
    link.href = `/runs/${encodeURIComponent(run.id)}`;
    link.textContent = run.label || `run ${number + 1}`;
    return link;
  });
  told.textContent = answer.already ? "These logs are here already: " : `${answer.runs.length} runs in these logs: `;
  links.forEach((link, number) => told.append(...(number ? [", ", link] : [link])));
}

function finish(request) {
  progress.hidden = true;
  button.disabled = false;
  if (request.status === 200 || request.status === 201) {
    showRuns({ ...JSON.parse(request.responseText), already: request.status === 200 });
    return;
  }
  told.textContent = "";
  tell(wrong, readProblem(request.responseText, request.status));
}

function said(share) {
  const percent = Math.floor(share * 100);
  bar.value = percent;
  const text = percent >= 100 ? "Sent. Reading and reviewing…" : `Sending, ${percent - (percent % 10)} % sent`;
  if (percent >= 100) bar.removeAttribute("value");
  if (told.textContent !== text) told.textContent = text; // a live region is read out at each change: tens only
}

const check = watch(form, () => readAllGiven(form));

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  if (!picker.files.length) return;
  wrong.replaceChildren();
  button.disabled = true;
  const answer = await check();
  if (answer?.errors.length) {
    button.disabled = false;
    goToFault(form);
    tell(wrong, asProblem(answer));
    return;
  }
  progress.hidden = false;
  button.disabled = true;
  said(0);
  const request = new XMLHttpRequest();
  request.upload.addEventListener("progress", (step) => step.lengthComputable && said(step.loaded / step.total));
  request.upload.addEventListener("load", () => said(1));
  request.addEventListener("load", () => finish(request));
  request.addEventListener("error", () => {
    progress.hidden = true;
    button.disabled = false;
    told.textContent = "";
    tell(wrong, { title: "No answer", detail: "The server ended the connection or cannot be reached. Try again." });
  });
  request.open("POST", "/api/runs");
  request.send(body());
});
