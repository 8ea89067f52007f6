// An upload on its way: bytes first, then the stages of the review as the service tells them, then its answer.

/** Stages as a person would say them. */
const STAGES = {
  reading: "reading",
  clocks: "matching the logs' clocks",
  window: "finding the run",
  speed: "speed and distance",
  gears: "gears and shifts",
  power: "power, boost, band, limits",
  keeping: "saving",
};

/** A form as the service wants it. */
export function asForm({ car, details, files }) {
  const form = new FormData();
  if (car) form.append("car", car);
  form.append("details", JSON.stringify(details));
  for (const { blob, name } of files) form.append("log", blob, name);
  return form;
}

/** Events out of what has come of a stream; gives back those that are whole, and where the next begins. */
export function readEvents(text, from) {
  const events = [];
  for (let end = text.indexOf("\n\n", from); end >= 0; end = text.indexOf("\n\n", from)) {
    const lines = text.slice(from, end).split("\n");
    const part = (key) => lines.find((line) => line.startsWith(`${key}: `))?.slice(key.length + 2);
    if (part("event")) events.push({ name: part("event"), data: JSON.parse(part("data")) });
    from = end + 2;
  }
  return { events, from };
}

/**
 * Send logs. `tell(share, words)` hears how far it is: half of the way is sending, half reviewing.
 * Gives back the answer, `{status, body}`, as a promise, and `cancel`. The promise is refused with
 * "cancelled", or with "unreachable" where no answer came.
 */
export function send(upload, tell) {
  const request = new XMLHttpRequest();
  let givenUp = false; // by a person, not by a page that is left
  const answered = new Promise((resolve, reject) => {
    let from = 0;
    const hear = () => {
      const heard = readEvents(request.responseText, from);
      from = heard.from;
      for (const { name, data } of heard.events) {
        if (name === "answer") resolve(data);
        else tell(0.5 + (0.5 * (data.number - 1)) / data.of, [STAGES[data.stage] ?? data.stage, data.what].filter(Boolean).join(" "));
      }
    };
    request.upload.addEventListener("progress", ({ lengthComputable, loaded, total }) => {
      if (!lengthComputable) return;
      const percent = Math.floor((100 * loaded) / total);
      tell((0.5 * loaded) / total, percent < 100 ? `sending, ${percent - (percent % 10)} % sent` : "sent, waiting for its turn");
    });
    request.addEventListener("progress", () => request.status === 200 && hear());
    request.addEventListener("load", () => {
      if (request.getResponseHeader("Content-Type")?.startsWith("text/event-stream")) hear();
      else resolve({ status: request.status, body: asJson(request.responseText) });
      reject("unreachable"); // of no effect where an answer came
    });
    request.addEventListener("abort", () => reject(givenUp ? "cancelled" : "unreachable"));
    request.addEventListener("error", () => reject("unreachable"));
    request.open("POST", "/api/runs");
    request.setRequestHeader("Accept", "text/event-stream");
    request.send(asForm(upload));
  });
  return { answered, cancel: () => { givenUp = true; request.abort(); } };
}

function asJson(text) {
  try {
    return JSON.parse(text);
  } catch {
    return {};
  }
}
