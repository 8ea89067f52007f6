// Logs none of which names its engine speed: which column it is is asked, and the answer kept with the car.
import { send, work } from "./answers.js";
import { made } from "./tables.js";

const shown = (value) => Number(value.toPrecision(6)).toLocaleString("en-US", { maximumFractionDigits: 6 }).replace("-", "\u2212");
let questions = 0;

/** A column as a choice: its name, what it holds, its file where there are several. */
function choice({ log, column, unit, least, greatest }, at, several) {
  const holds = `${shown(least)} to ${shown(greatest)}${unit ? ` ${unit}` : ""}`;
  return new Option(`${column}: ${holds}${several ? `, ${log}` : ""}`, at);
}

/**
 * The question as a section. `cars` are those there are, `{id, name}`; `car` is the one that was chosen, if any.
 * `answered(kept)` is called once the answer is kept: `kept.car` is the car, `kept.undo()` takes the answer back.
 */
export function engineSpeedAsked({ columns, cars, car, name, alone }, answered) {
  const number = (questions += 1);
  const several = new Set(columns.map(({ log }) => log)).size > 1;
  const select = made("select", { required: true }, new Option("choose a column", ""));
  for (const [likely, label] of [[true, "By their values"], [false, "Other columns"]]) {
    const these = columns.flatMap((one, at) => (one.likely === likely ? [choice(one, at, several)] : []));
    if (these.length) select.append(made("optgroup", { label }, ...these));
  }
  const fields = made("div", { className: "fields" }, made("label", { className: "whole" }, "Engine speed is ", select));
  const whose = made("select", {}, new Option("a new car", ""), ...cars.map((one) => new Option(one.name, one.id)));
  const called = made("input", { required: true, maxLength: 200, value: `Car of ${name}`.slice(0, 200) });
  const naming = made("label", {}, cars.length ? "A new car is named " : "The car is named ", called);
  if (!car) {
    whose.addEventListener("change", () => {
      naming.hidden = called.disabled = Boolean(whose.value);
    });
    if (cars.length) fields.append(made("label", {}, "This run and the answer belong to ", whose));
    fields.append(naming);
  }
  const button = made("button", { type: "submit" }, "Save the answer and review again");
  const status = made("output");
  status.setAttribute("role", "status");
  const form = made("form", { className: "form" });
  form.append(
    made("p", {}, `The answer is saved to ${car ? car.name : "the car"}, for every log with the same columns: nobody is asked twice. It can be undone on the run's page.`),
    fields,
    made("p", { className: "act" }, button, " ", status),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    work(button, status, "Saving…", async () => answered(await keep(columns[Number(select.value)], car?.id ?? whose.value, called.value.trim())));
  });
  const heading = made("h2", { id: `h-engine-speed-${number}` }, `Which column is engine speed?${alone ? "" : ` ${name}`}`);
  const section = made("section", { className: "asked" }, heading, form);
  section.setAttribute("aria-labelledby", heading.id);
  return section;
}

async function keep({ layout, column }, id, name) {
  const before = id ? await send("GET", `/api/cars/${encodeURIComponent(id)}`) : { name };
  const layouts = before.layouts ?? {};
  const given = { ...before, layouts: { ...layouts, [layout]: { ...layouts[layout], [column]: "engine_speed" } } };
  const car = await (id ? send("PUT", `/api/cars/${encodeURIComponent(id)}`, given) : send("POST", "/api/cars", given));
  return { car, undo: () => send("PUT", `/api/cars/${encodeURIComponent(car.id)}`, { ...before, layouts }) };
}
