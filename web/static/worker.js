// What was seen last can be read while the service is away: pages and what they draw are kept as they come, and asked
// for anew each time; only where no answer comes is the kept one shown. Nothing that changes anything goes through here.
const KEPT = "passband-seen-1";
const MOST = 120; // answers kept: some forty runs with their traces
const PATIENCE_MS = 8000;
const DRAWN = /^\/(runs\/[^/]+\/lines|api\/compare|api\/runs)\b/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  const old = caches.keys().then((names) => Promise.all(names.filter((name) => name !== KEPT).map((name) => caches.delete(name))));
  event.waitUntil(old.then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (address.pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (address.pathname === "/sign-in") event.waitUntil(caches.delete(KEPT)); // another person may come: nothing stays
  else if (request.mode === "navigate") event.respondWith(latest(request, event));
  else if (DRAWN.test(address.pathname) && !/\/(logs|export)\b/.test(address.pathname)) event.respondWith(latest(request, event));
});

/** A file that its name holds fast: the kept one first. */
async function file(request) {
  const cache = await caches.open(KEPT);
  const kept = await cache.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok && /immutable/.test(answer.headers.get("Cache-Control") ?? "")) {
    await cache.put(request, answer.clone());
    await cut(cache, (path) => path.startsWith("/static/"));
  }
  return answer;
}

/** The answer of now, kept for later; where none comes, the one that was seen last. */
async function latest(request, event) {
  const cache = await caches.open(KEPT);
  try {
    const answer = await soon(request);
    if (answer.ok && !/event-stream|attachment/.test(`${answer.headers.get("Content-Type")} ${answer.headers.get("Content-Disposition")}`)) {
      event.waitUntil(keep(cache, request, answer.clone()));
    }
    return answer;
  } catch (error) {
    const kept = (await cache.match(request)) ?? (request.mode === "navigate" ? await cache.match(request, { ignoreSearch: true }) : undefined);
    if (kept) return kept;
    if (request.mode !== "navigate") throw error;
    return (await cache.match("/")) ?? Response.error();
  }
}

function soon(request) {
  if (request.mode !== "navigate") return fetch(request);
  return fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
}

async function keep(cache, request, answer) {
  await cache.delete(request); // what is seen again goes to the end
  await cache.put(request, answer);
  await cut(cache, (path) => !path.startsWith("/static/"));
}

/** Let go of the oldest of a kind. Files of an earlier version are kept a while: pages seen before ask for them. */
async function cut(cache, of) {
  const seen = (await cache.keys()).filter((one) => of(new URL(one.url).pathname));
  await Promise.all(seen.slice(0, Math.max(0, seen.length - MOST)).map((one) => cache.delete(one)));
}
