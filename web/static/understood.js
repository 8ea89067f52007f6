// A number is in the unit beside its field. What the service understood of it is shown at once, in both systems of
// units; what cannot be is refused at the field. All conversion is the service's: nothing is worked out here.

const WAIT_MS = 250;
const NUMBER = /[-+]?(\d+[.,]?\d*|[.,]\d+)(e[-+]?\d+)?/gi;
const DOUBT = /(\s*(?:±|\+\/?-)\s*)/;

/** A number as written, with the unit beside it; one that carries its own stands as it is. */
export function withUnit(text, unit) {
  const plain = text.trim();
  const own = /[\p{L}%°"]/u.test(plain.replace(NUMBER, "").replace(/\b(to|and|up)\b/gi, ""));
  if (!unit || plain === "" || own) return plain;
  return plain
    .split(DOUBT)
    .map((part, at) => (at % 2 ? part : `${part} ${unit}`))
    .join("");
}

/** The unit chosen beside a named field; empty where there is none. */
export function unitBeside(form, name) {
  const place = form.querySelector(`[data-unit="${CSS.escape(name)}"]`);
  return place ? (place.value ?? place.dataset.value ?? "") : "";
}

/** What stands in a field: a plain number where nothing else stands there and no unit is beside it. */
export function givenOf(form, input) {
  const text = input.value.trim();
  const unit = unitBeside(form, input.name);
  const number = Number(text.replace(",", "."));
  return !unit && Number.isFinite(number) ? number : withUnit(text, unit);
}

/** Put a number with its unit into a field and the choice beside it; with a unit that is not offered it stands whole. */
export function fillField(form, name, text) {
  const select = form.querySelector(`select[data-unit="${CSS.escape(name)}"]`);
  const parts = /^([-+\d.,\s]+?)\s*([^\d\s].*)$/.exec(text.trim());
  const offered = select && parts && [...select.options].some((one) => one.value === parts[2]);
  form.elements[name].value = offered ? parts[1] : text;
  if (offered) select.value = parts[2];
  else if (select && !/[\p{L}%]/u.test(text) && [...select.options].some((one) => one.value === "")) select.value = "";
}

function show(place, text, wrong) {
  place.textContent = text;
  place.classList.toggle("is-wrong", wrong);
  const field = place.htmlFor?.length ? document.getElementById(place.htmlFor[0]) : place.field;
  field?.setAttribute("aria-invalid", wrong ? "true" : "false");
}

/** The place for a fault: that of its key, else of the nearest key around it. */
function placeOf(places, where) {
  for (let key = where; key; key = key.includes(".") ? key.slice(0, key.lastIndexOf(".")) : "") {
    if (places.has(key)) return places.get(key);
  }
  return undefined;
}

function paint(form, answer) {
  const places = new Map([...form.querySelectorAll("[data-where]")].map((one) => [one.dataset.where, one]));
  const said = new Map();
  for (const [where, text] of Object.entries(answer.understood)) {
    const place = places.get(where);
    if (place && place.dataset.quiet === undefined) said.set(place, text);
  }
  const wrong = new Map();
  for (const fault of answer.errors) {
    const place = placeOf(places, fault.where);
    if (place) wrong.set(place, [...(wrong.get(place) ?? []), fault.text]);
  }
  for (const place of places.values()) {
    const faults = wrong.get(place);
    show(place, faults ? `◆ ${faults.join("; ")}` : (said.get(place) ?? ""), Boolean(faults));
  }
}

/**
 * Watch a form: `collect` gives what it holds as it would be sent, `use` may take the answer, true
 * if the form asks for more by it.
 * Gives back a function that asks at once and answers with what was understood; null where nobody answers.
 */
export function watch(form, collect, use = () => false) {
  let asked = 0;
  let timer;
  async function check() {
    clearTimeout(timer);
    const mine = (asked += 1);
    let answer = null;
    try {
      const reply = await fetch("/api/understand", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ ...collect(), beside_units: true }),
      });
      if (reply.ok) answer = await reply.json();
    } catch {
      return null; // the service itself refuses what cannot be when it is sent
    }
    if (!answer) return null;
    if (mine !== asked || use(answer)) return check(); // the form is another by now, or has units it had not
    paint(form, answer);
    return answer;
  }
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(check, WAIT_MS);
  };
  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  return check;
}

/** What the page calls the field of a fault; its key where the page has no such field. */
function calledOf(where) {
  const places = new Map([...document.querySelectorAll("[data-where]")].map((one) => [one.dataset.where, one]));
  const place = placeOf(places, where);
  const label = place?.closest(".q")?.querySelector("label");
  const limit = place?.closest(".limit")?.querySelector("summary b")?.textContent.trim();
  return label ? [limit, label.textContent.trim()].filter(Boolean).join(", ") : where.split(".").slice(1).join(".");
}

/** What `check` understands of a form now; what cannot be is thrown as one problem, and its first field gone to. */
export async function sound(form, check) {
  const answer = await check();
  if (!answer?.errors.length) return answer;
  const field = form.querySelector("[aria-invalid=true]");
  field?.closest("details")?.setAttribute("open", "");
  field?.focus();
  const faults = answer.errors.map((fault) => [calledOf(fault.where), fault.text].filter(Boolean).join(": "));
  throw { title: "Not sent", detail: `${faults.join("; ")}.`, findings: [] };
}
