// Uploads on their way, and those that found no service: kept in this browser until an answer came, so that neither a
// reload nor a page that the phone let go of loses them. The same logs sent twice give the same run.
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

const OTHERS_MS = 120_000; // so long what another window sends is left to it

/** This window, through its reloads. */
function windowName() {
  try {
    if (!sessionStorage.getItem("passband-window")) sessionStorage.setItem("passband-window", Math.random().toString(36));
    return sessionStorage.getItem("passband-window");
  } catch {
    return "";
  }
}

/** Keep an upload: `{car, details, files: [{name, blob}]}`; its number. Refused where the browser has no room. */
export const keep = (upload) => ask("readwrite", (store) => store.add({ ...upload, at: new Date().toISOString(), by: windowName() }));

const isOurs = ({ by, at }) => !by || by === windowName() || Date.now() - Date.parse(at) > OTHERS_MS;

/** All that are kept and no other window is about to send, the oldest first; none where the browser keeps nothing. */
export const allKept = () => ask("readonly", (store) => store.getAll()).then((all) => all.filter(isOurs), () => []);

export const letGo = (id) => ask("readwrite", (store) => store.delete(id));

/** Whether the service answers. */
export async function answers() {
  try {
    return (await fetch("/health", { cache: "no-store" })).ok;
  } catch {
    return false;
  }
}
