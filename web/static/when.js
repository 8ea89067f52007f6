// The day and the time of day of a run, in two fields that may be empty.

const fieldsOf = (form) => [form.elements.day, form.elements.clock];

/** What the two fields say, ISO 8601; empty without a day. */
export function whenOf(form) {
  const [day, clock] = fieldsOf(form).map(({ value }) => value);
  return day && clock ? `${day}T${clock}` : day;
}

/** Put a time as told into the fields, to the minute. */
export function showWhen(form, at) {
  const [day, clock] = fieldsOf(form);
  day.value = at.slice(0, 10);
  clock.value = at.slice(11, 16);
}

/** Whether a person has written in the fields since the page came. */
export function watchWhen(form) {
  let written = false;
  for (const field of fieldsOf(form)) field.addEventListener("input", () => (written = true));
  return () => written;
}

/** A time for reading: day and time of day. */
export const asRead = (at) => at.slice(0, 16).replace("T", " ");
