// How the service answers, and how a problem is shown: in its own words, never by a code alone.

import { changed } from "./fresh.js";
import { made } from "./tables.js";
import { givenOf } from "./understood.js";

/** A problem's title, detail and findings out of an answer's text. */
export function readProblem(text, status) {
  try {
    const problem = JSON.parse(text);
    return { title: problem.title ?? "Not done", detail: problem.detail ?? "", findings: problem.findings ?? [], now: problem.now };
  } catch {
    return { title: "Not done", detail: `The server answered with status ${status}.`, findings: [] };
  }
}

/** Send JSON and give back JSON; throws a problem as `readProblem` gives it. */
export async function send(method, address, body) {
  let answer;
  try {
    answer = await fetch(address, {
      method,
      headers: body === undefined ? {} : { "Content-Type": "application/json" },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch {
    throw { title: "No answer", detail: "The server cannot be reached; is it still running?", findings: [] };
  }
  const text = await answer.text();
  if (!answer.ok) throw readProblem(text, answer.status);
  if (method !== "GET") changed();
  return text ? JSON.parse(text) : null;
}

/** Do what a button is for: it rests and `status` says what is done meanwhile; what went wrong is said there. */
export async function work(button, status, words, act) {
  button.disabled = true;
  status.textContent = words;
  try {
    await act();
  } catch (problem) {
    status.textContent = `◆ Not done. ${problem.detail ?? problem}`;
    button.disabled = false;
  }
}

/** Show a problem where it is heard at once. Text only: what it quotes may come from a file. */
export function tell(place, problem) {
  place.replaceChildren(made("span", {}, `${problem.title}. ${problem.detail}`));
  const items = (problem.findings ?? []).map(({ text, where }) => made("li", {}, where ? `${text} (${where})` : text));
  if (items.length) place.append(made("ul", {}, ...items));
  place.scrollIntoView({ block: "nearest" });
}

/** Filled-in fields of a slip or of the air, each with the unit beside it; null where nothing was given. */
export function readGiven(fieldset) {
  const given = {};
  for (const input of fieldset.querySelectorAll("input")) {
    if (input.value.trim() !== "") given[input.name] = givenOf(fieldset, input);
  }
  return Object.keys(given).length ? given : null;
}

/** All that a form tells of slip and air, to be said back. */
export function readAllGiven(form) {
  const all = [...form.querySelectorAll("[data-part]")];
  return Object.fromEntries(all.map((fieldset) => [fieldset.dataset.part, readGiven(fieldset)]));
}
