// The sheet of an event: sorted by a column, filtered by a word, runs ticked for what compares them.
import "./fresh.js";

const page = document.querySelector("[data-season]");
const table = page.querySelector("table.season");
const AT_ONCE = 4; // rows that a slow phone lays out without its finger waiting
if (table) {
  begin();
  arrive([...table.querySelectorAll("tr.later")]);
}

/** Rows below the first view come a few at a time. */
function arrive(rows) {
  if (!rows.length) return;
  for (const row of rows.splice(0, AT_ONCE)) row.classList.remove("later");
  requestAnimationFrame(() => setTimeout(arrive, 0, rows));
}

function begin() {
  const rows = [...table.tBodies[0].rows];
  const filter = page.querySelector("[data-filter]");
  const [word, clean] = filter.querySelectorAll("input");
  const shown = filter.querySelector("output");
  const form = page.querySelector("form");
  const [costs, before, after] = ["costs", "before", "after"].map((name) => form.querySelector(`[data-${name}]`));
  const status = form.querySelector(".act output");
  let held = [];

  filter.hidden = false;
  for (const head of table.tHead.querySelectorAll("th[data-by]")) makeSortable(head, rows);

  const sift = () => {
    const wanted = word.value.trim().toLowerCase();
    for (const row of rows) {
      const there = row.textContent.toLowerCase().includes(wanted);
      row.hidden = !there || (clean.checked && !("clean" in row.dataset));
    }
    const left = rows.filter((row) => !row.hidden).length;
    shown.textContent = left < rows.length ? `${left} of ${rows.length} runs` : "";
  };
  word.addEventListener("input", sift);
  chooseColumns(filter.querySelector("[data-columns]"));
  clean.addEventListener("change", sift);

  const ticked = () => [...form.querySelectorAll("input[name=run]:checked")].map((box) => box.value);
  const show = () => {
    const count = ticked().length;
    for (const button of form.querySelectorAll("button[type=submit]")) button.disabled = count === 0;
    costs.disabled = count < 2;
    before.disabled = count === 0;
    after.disabled = count === 0 || held.length === 0 || ticked().some((run) => held.includes(run));
    const parts = [held.length ? `${held.length} before` : "", count ? `${count} selected` : ""];
    status.textContent = parts.filter(Boolean).join(", ");
  };
  form.addEventListener("change", show);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    location.assign(`${event.submitter?.getAttribute("formaction") ?? "/overlay"}?runs=${ticked().join(",")}`);
  });
  costs.addEventListener("click", () => location.assign(`/costs?runs=${ticked().join(",")}`));
  before.addEventListener("click", () => {
    held = ticked();
    for (const box of form.querySelectorAll("input[name=run]:checked")) box.checked = false;
    show();
  });
  after.addEventListener("click", () => location.assign(`/change?before=${held.join(",")}&after=${ticked().join(",")}`));
  show();
}

/** Columns of one part alone, or all; by one rule a column, so that the longest sheet turns at once. */
function chooseColumns(choice) {
  if (!choice) return;
  const hidden = new CSSStyleSheet();
  document.adoptedStyleSheets.push(hidden);
  const heads = [...table.tHead.querySelectorAll("th[data-part]")];
  const turn = () => {
    const others = heads.filter((head) => choice.value && head.dataset.part !== choice.value);
    hidden.replaceSync(others.map((head) => `.season tr > :nth-child(${head.cellIndex + 1}) { display: none; }`).join("\n"));
  };
  choice.addEventListener("change", turn);
  turn(); // a browser that comes back keeps what was chosen
  const parts = () => (choice.value ? [choice.value] : [...choice.options].map(({ value, text }) => value || text).slice(1));
  addEventListener("beforeprint", () => layInParts(heads, parts()));
  addEventListener("afterprint", () => page.querySelectorAll(".season-part").forEach((one) => one.remove()));
}

/** Paper is narrower than all columns: each part of them becomes a table of its own, under the others. */
function layInParts(heads, parts) {
  for (const part of parts) {
    const others = heads.filter((head) => head.dataset.part !== part).map((head) => head.cellIndex).reverse();
    const copy = table.cloneNode(true);
    copy.className = "sheet season-part";
    for (const row of copy.rows) for (const place of others) row.cells[place]?.remove();
    for (const tick of copy.querySelectorAll(".tick")) tick.remove();
    copy.createCaption().textContent = part[0].toUpperCase() + part.slice(1);
    table.parentElement.append(copy);
  }
}

/** A column's title becomes a button; pressed again it turns the order round. What is not known goes last. */
function makeSortable(head, rows) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "sort", textContent: head.textContent });
  head.replaceChildren(button);
  const place = head.cellIndex;
  button.addEventListener("click", () => {
    const down = head.getAttribute("aria-sort") === "ascending";
    for (const other of table.tHead.querySelectorAll("[aria-sort]")) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const value = (row) => row.cells[place].dataset.value ?? "";
    const order = head.dataset.by === "number" ? (a, b) => Number(a) - Number(b) : (a, b) => a.localeCompare(b);
    rows.sort((a, b) => {
      const [left, right] = [value(a), value(b)];
      if (left === "" || right === "") return (left === "") - (right === "");
      return down ? order(right, left) : order(left, right);
    });
    table.tBodies[0].append(...rows);
  });
}
