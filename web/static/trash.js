// The trash: a run brought back as it was, or let go for good after a second word.
import { send } from "./answers.js";

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
    work(button, "Bringing it back…", "POST", address, (answer) => {
      location.assign(answer.runs.length === 1 ? `/runs/${encodeURIComponent(answer.runs[0].id)}` : "/");
    });
  });
}

for (const button of document.querySelectorAll("[data-let-go]")) {
  let asked = false;
  button.addEventListener("click", () => {
    if (!asked) {
      asked = true;
      button.textContent = "Yes, for good";
      return;
    }
    const address = `/api/trash/${encodeURIComponent(button.dataset.letGo)}`;
    work(button, "Letting it go…", "DELETE", address, () => location.reload());
  });
}
