// Runs laid over each other: the service's specification drawn by the chart library, with a pointer of our own over it.
import { readProblem, tell } from "./answers.js";

const page = document.querySelector("[data-overlay]");
const told = page.querySelector(".told");
const wrong = page.querySelector(".wrong");
const charts = page.querySelector(".charts");
const chart = page.querySelector(".chart");
const look = page.querySelector(".look input");
const at = page.querySelector(".look output");
const readout = page.querySelector(".readout");
const pointer = Object.assign(document.createElement("div"), { className: "pointer" });

let specification = null;
let drawn = null;
let plot = { left: 0, width: 1 };
let drawing = 0;

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function theme() {
  const ink = colour("--ink");
  return {
    background: "transparent",
    range: { category: [0, 1, 2, 3, 4, 5].map((number) => colour(`--run-${number}`)) },
    style: { band: { color: colour("--in"), opacity: 0.16 }, rule: { color: ink } },
    axis: { labelColor: ink, titleColor: ink, gridColor: colour("--faint"), domainColor: ink, tickColor: ink },
    font: "system-ui, sans-serif",
  };
}

/** The page lists the runs itself, with links: the picture needs no legend. */
function withoutLegend(whole) {
  for (const panel of whole.vconcat) {
    for (const layer of panel.layer) {
      for (const channel of [layer.encoding?.color, layer.encoding?.strokeDash]) if (channel) channel.legend = null;
    }
  }
  return whole;
}

/** Where the plots stand within the picture: all panels share their left edge and width. */
function findPlot(view, width) {
  const panel = view.scenegraph().root.items[0].items.find((mark) => mark.role === "scope");
  plot = { left: view.origin()[0] + (panel?.items[0]?.x ?? 0), width };
}

async function draw() {
  const turn = ++drawing;
  const width = Math.max(chart.clientWidth - 76, 200);
  const height = chart.clientWidth < 600 ? 130 : 170;
  const panels = specification.vconcat.map((panel) => ({ ...panel, width, height }));
  const place = document.createElement("div");
  const made = await window.vegaEmbed(place, { ...specification, vconcat: panels }, {
    ast: true, // expressions are walked, not compiled: the page allows no code made of text
    actions: false,
    defaultStyle: false,
    tooltip: false,
    renderer: "canvas",
    config: theme(),
  });
  if (turn !== drawing) {
    made.finalize();
    return;
  }
  drawn?.finalize();
  drawn = made;
  chart.replaceChildren(place, pointer);
  findPlot(made.view, width);
  show(Number(look.value));
}

/** A line's value at a place, straight between its points; null in a hole. */
function valueAt(rows, feet) {
  let low = 0;
  let high = rows.length - 1;
  if (high < 0 || feet < rows[low].ft || feet > rows[high].ft) return null;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (rows[middle].ft <= feet) low = middle;
    else high = middle;
  }
  const [a, b] = [rows[low], rows[high]];
  if (a.y === null || b.y === null) return null;
  return b.ft === a.ft ? a.y : a.y + ((b.y - a.y) * (feet - a.ft)) / (b.ft - a.ft);
}

function cell(kind, text, scope) {
  const one = document.createElement(kind);
  one.textContent = text;
  if (scope) one.scope = scope;
  return one;
}

const written = (value, digits) =>
  value
    .toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits })
    .replace("-", "−");

let lines = null;

function show(feet) {
  const { panels, runs, length_ft } = specification.usermeta;
  at.textContent = `${feet} ft`;
  look.setAttribute("aria-valuetext", `${feet} feet`);
  pointer.style.left = `${plot.left + (feet / length_ft) * plot.width}px`;
  readout.tBodies[0].replaceChildren(
    ...runs.map((run) => {
      const row = document.createElement("tr");
      row.append(cell("th", run, "row"));
      for (const panel of panels) {
        const value = valueAt(lines[panel.data][run] ?? [], feet);
        const sign = panel.data === "difference" && value > 0 ? "+" : "";
        row.append(cell("td", value === null ? "–" : sign + written(value, panel.digits)));
      }
      return row;
    }),
  );
}

function prepare() {
  const { panels, length_ft, thinned } = specification.usermeta;
  lines = {};
  for (const panel of panels) lines[panel.data] = grouped(specification.datasets[panel.data]);
  const head = document.createElement("tr");
  head.append(cell("th", "Run", "col"));
  for (const panel of panels) head.append(cell("th", panel.unit ? `${panel.title}, ${panel.unit}` : panel.title, "col"));
  readout.tHead.replaceChildren(head);
  look.max = Math.round(length_ft);
  look.value = Math.round(length_ft / 2 / 5) * 5;
  page.querySelector(".thinned").textContent = thinned;
}

function grouped(rows) {
  const groups = {};
  for (const row of rows) (groups[row.run] ??= []).push(row);
  return groups;
}

function follow(event) {
  const { length_ft } = specification.usermeta;
  const share = (event.clientX - chart.getBoundingClientRect().left - plot.left) / plot.width;
  const feet = Math.round((Math.min(Math.max(share, 0), 1) * length_ft) / 5) * 5;
  look.value = feet;
  show(feet);
}

async function begin() {
  const units = document.querySelector("[data-units][aria-current]")?.dataset.units ?? "us";
  const address = `/api/overlay?runs=${encodeURIComponent(page.dataset.overlay)}&units=${units}`;
  const answer = await fetch(address);
  const text = await answer.text();
  if (!answer.ok) throw readProblem(text, answer.status);
  specification = withoutLegend(JSON.parse(text));
  prepare();
  charts.hidden = false;
  look.addEventListener("input", () => show(Number(look.value)));
  await draw();
  told.textContent = "";
  chart.addEventListener("pointermove", follow);
  chart.addEventListener("pointerdown", follow);
  let wide = chart.clientWidth;
  new ResizeObserver(() => {
    if (chart.clientWidth === wide) return;
    wide = chart.clientWidth;
    draw();
  }).observe(chart);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
}

begin().catch((problem) => {
  told.textContent = "";
  charts.hidden = true;
  tell(wrong, problem.detail ? problem : { title: "Not drawn", detail: String(problem) });
});
