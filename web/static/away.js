// What was seen last stays readable while the service is away, and says so. Browsers allow it on this machine and over
// https only; elsewhere the page works as it always did.
if ("serviceWorker" in navigator) begin();

async function begin() {
  navigator.serviceWorker.register("/worker.js").catch(() => {}); // a browser that keeps nothing is no fault
  if (!navigator.serviceWorker.controller) return;
  try {
    const answer = await fetch("/health", { cache: "no-store", signal: AbortSignal.timeout(8000) });
    await answer.arrayBuffer(); // left unread it would stand open until the time is up
  } catch {
    const kept = await caches.match(location.href);
    const at = new Date(kept?.headers.get("Date") ?? NaN);
    const when = Number.isNaN(at.getTime()) ? "earlier" : at.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    const place = document.querySelector(".away");
    place.textContent = `The service does not answer. This page is as it was seen ${when === "earlier" ? when : `on ${when}`}; nothing can be changed now.`;
    place.hidden = false;
  }
}
