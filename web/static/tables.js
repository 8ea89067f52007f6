// Tables that scripts make of an answer: the same markup as the page's own, numbers grouped, with a true minus sign.

export const made = (tag, props = {}, ...children) => {
  const one = Object.assign(document.createElement(tag), props);
  one.append(...children);
  return one;
};
export function drawn(tag, props, ...children) {
  const one = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(props)) one.setAttribute(name, value);
  one.append(...children);
  return one;
}
export const begun = (text) => text[0].toUpperCase() + text.slice(1);
export const plain = (value, digits) =>
  Math.abs(value).toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits });
export function number(value, digits = 0) {
  const shown = plain(value, digits);
  return value < 0 && /[1-9]/.test(shown) ? `−${shown}` : shown;
}
export function signed(value, digits) {
  const shown = plain(value, digits);
  return `${/[1-9]/.test(shown) ? (value > 0 ? "+" : "−") : ""}${shown}`;
}
export const half = (value, digits) => made("span", { className: "pm", textContent: ` ±${plain(value, digits)}` });
export const estimate = ({ value, plus_minus: pm }, scale, digits) => made("span", {}, signed(value / scale, digits), half(pm / scale, digits));

export function table(caption, head, rows, className = "") {
  const row = (cells, scope) => made("tr", {}, ...cells.map((one, at) => (one === "" || (at && scope !== "col") ? made("td", {}, one) : made("th", { scope }, one))));
  const whole = made("table", { className }, made("caption", { textContent: caption }));
  if (head.length) whole.append(made("thead", {}, row(head, "col")));
  whole.append(made("tbody", {}, ...rows.map((cells) => row(cells, "row"))));
  return scrolled(caption, whole);
}

const scrolled = (ariaLabel, what) => made("div", { className: "scroll", tabIndex: 0, role: "region", ariaLabel }, what);

/** Findings, a sentence each; `sentences` has their texts in the reader's units. */
export const said = (findings, sentences, className = "say") => findings.map(({ level, text }) => made("p", { className, textContent: `${begun(level)}: ${sentences[text] ?? text}` }));

/** What was printed for a wall, to copy. */
export function printed(text, name) {
  return made("details", {}, made("summary", { textContent: "As text, to copy" }), scrolled(name, made("pre", { textContent: text })));
}
