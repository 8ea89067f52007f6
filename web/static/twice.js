// What cannot be undone lightly is asked twice; Escape, or going elsewhere, takes the first press back.

/** `words` stand on the button once it was pressed; `said`, where given, is said beside it; then `act` is done. */
export function askTwice(button, words, act, said = "") {
  const status = button.parentElement.querySelector("output");
  const first = button.textContent;
  const arm = (armed) => {
    button.textContent = armed ? words : first;
    button.toggleAttribute("data-armed", armed);
    if (said) status.textContent = armed ? said : "";
  };
  button.addEventListener("click", () => {
    if ("armed" in button.dataset) act(status);
    else arm(true);
  });
  const back = () => "armed" in button.dataset && !button.disabled && arm(false);
  button.addEventListener("blur", back);
  button.addEventListener("keydown", ({ key }) => key === "Escape" && back());
}
