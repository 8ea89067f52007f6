// What was seen last stays readable while the service is away, and says so. Browsers allow it on this machine and over
// https only; elsewhere nothing is kept.
if ("serviceWorker" in navigator) begin();

async function begin() {
  navigator.serviceWorker.register("/worker.js").catch(() => {}); // a browser that keeps nothing is no fault
  if (!navigator.serviceWorker.controller) return;
  try {
    const answer = await fetch("/health", { cache: "no-store", signal: AbortSignal.timeout(8000) });
    await answer.arrayBuffer(); // left unread it would stand open until the time is up
  } catch {
    const kept = await caches.match(location.href, { ignoreSearch: true });
    const at = kept && new Date(kept.headers.get("Date")).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    const page = kept ? `This page is as it was seen on ${at}` : "This page was not seen before: here are the runs as they were seen last";
    const place = document.querySelector(".away");
    place.textContent = `The service does not answer. ${page}; nothing can be changed now.`;
    place.hidden = false;
  }
}
