// The trash: a run restored, or deleted for good.
import { send, work } from "./answers.js";
import { askTwice } from "./twice.js";

const entry = (id) => `/api/trash/${encodeURIComponent(id)}`;

for (const button of document.querySelectorAll("[data-restore]")) {
  button.addEventListener("click", () =>
    work(button, button.parentElement.querySelector("output"), "Restoring…", async () => {
      const { runs } = await send("POST", `${entry(button.dataset.restore)}/restore`);
      location.assign(runs.length === 1 ? `/runs/${encodeURIComponent(runs[0].id)}` : "/");
    }));
}

for (const button of document.querySelectorAll("[data-let-go]")) {
  askTwice(button, "Yes, delete for good", (status) =>
    work(button, status, "Deleting…", async () => {
      await send("DELETE", entry(button.dataset.letGo));
      location.reload();
    }));
}
