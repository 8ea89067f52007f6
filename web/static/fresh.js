// A list that is gone back to after something was changed is asked for anew: what the browser held of it is old.
const COUNT = "passband-changes";

function count() {
  try {
    return Number(sessionStorage.getItem(COUNT) ?? 0);
  } catch {
    return 0; // a browser that keeps nothing
  }
}

/** Something was changed from this window: lists seen before are old. */
export function changed() {
  try {
    sessionStorage.setItem(COUNT, count() + 1);
  } catch {
    // a browser that keeps nothing
  }
}

addEventListener("pageshow", ({ persisted }) => {
  const back = persisted || performance.getEntriesByType("navigation")[0]?.type === "back_forward";
  if (!back) history.replaceState({ ...history.state, changes: count() }, "");
  else if ((history.state?.changes ?? 0) < count() && document.querySelector("[data-fresh]")) location.reload();
});
