// Uploads that found no service: kept in this browser until it answers. The same logs sent twice give the same run.
const STORE = "uploads";

function open() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("passband", 1);
    asked.addEventListener("upgradeneeded", () => asked.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true }));
    asked.addEventListener("success", () => resolve(asked.result));
    asked.addEventListener("error", () => reject(asked.error));
  });
}

async function ask(mode, question) {
  const database = await open();
  try {
    return await new Promise((resolve, reject) => {
      const work = database.transaction(STORE, mode);
      const asked = question(work.objectStore(STORE));
      work.addEventListener("complete", () => resolve(asked.result));
      work.addEventListener("abort", () => reject(work.error));
    });
  } finally {
    database.close();
  }
}

/** Keep an upload: `{car, details, files: [{name, blob}]}`. Refused where the browser has no room. */
export const keep = (upload) => ask("readwrite", (store) => store.add({ ...upload, at: new Date().toISOString() }));

/** All that are kept, the oldest first; none where the browser keeps nothing. */
export const allKept = () => ask("readonly", (store) => store.getAll()).catch(() => []);

export const letGo = (id) => ask("readwrite", (store) => store.delete(id));

/** Whether the service answers. */
export async function answers() {
  try {
    return (await fetch("/health", { cache: "no-store" })).ok;
  } catch {
    return false;
  }
}
