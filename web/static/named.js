// A change between two groups of runs is given a name, by which it is found and shared; or is taken off the list.
import { send, tell } from "./answers.js";

const form = document.querySelector("[data-groups]");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const wrong = form.querySelector(".wrong");
  wrong.replaceChildren();
  const given = { name: form.elements.name.value, notes: form.elements.notes.value, ...JSON.parse(form.dataset.groups) };
  try {
    const { id } = form.dataset;
    const kept = await send(id ? "PUT" : "POST", `/api/groups${id ? `/${id}` : ""}`, given);
    location.assign(`/changes/${kept.id}`);
  } catch (problem) {
    tell(wrong, problem);
  }
});

const button = document.querySelector("[data-let-go]");
button?.addEventListener("click", async () => {
  try {
    await send("DELETE", `/api/groups/${form.dataset.id}`);
    location.assign(button.dataset.letGo);
  } catch (problem) {
    tell(form.querySelector(".wrong"), problem);
  }
});
