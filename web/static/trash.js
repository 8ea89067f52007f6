// The trash: a run restored, or deleted for good.
import { send } from "./answers.js";
import { askTwice } from "./twice.js";

function work(button, words, method, address, next) {
  const status = button.parentElement.querySelector("output");
  button.disabled = true;
  status.textContent = words;
  send(method, address).then(next, (problem) => {
    status.textContent = `◆ Not done. ${problem.detail ?? problem}`;
    button.disabled = false;
  });
}

for (const button of document.querySelectorAll("[data-restore]")) {
  button.addEventListener("click", () => {
    const address = `/api/trash/${encodeURIComponent(button.dataset.restore)}/restore`;
    work(button, "Restoring…", "POST", address, (answer) => {
      location.assign(answer.runs.length === 1 ? `/runs/${encodeURIComponent(answer.runs[0].id)}` : "/");
    });
  });
}

for (const button of document.querySelectorAll("[data-let-go]")) {
  askTwice(button, "Yes, delete for good", () => {
    const address = `/api/trash/${encodeURIComponent(button.dataset.letGo)}`;
    work(button, "Deleting…", "DELETE", address, () => location.reload());
  });
}
