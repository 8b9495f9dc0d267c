// The device's own store (IndexedDB): entries people made, and a few facts such as who is signed in.
// An entry: {uid, op, type, kennel, kennel_name, carer, carer_name, label, data, made_at, state, attempts, ...}
// state: waiting -> sending -> sent; attention (somebody must look); withdrawn (taken back before it was sent).

let opening = null;
const channel = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("kennel-store");

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("kennel", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "uid" });
      request.result.createObjectStore("facts", { keyPath: "name" });
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
  });
  return opening;
}

// Runs `work` in one transaction and waits until it is on disk: only then may a page say that an entry is kept.
async function within(mode, name, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(name, mode, { durability: "strict" });
    let result;
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
    work(transaction.objectStore(name), (value) => { result = value; });
  });
}

export async function works() {
  try {
    await open();
    return true;
  } catch {
    return false;
  }
}

export function allEntries() {
  return within("readonly", "entries", (store, give) => {
    const request = store.getAll();
    request.onsuccess = () => give(request.result);
  });
}

export async function put(entry) {
  await within("readwrite", "entries", (store) => store.put(entry));
  tell();
}

// change(entry) gives the entry to store, null to remove it, undefined to leave it; one transaction.
export async function change(uid, decide) {
  const changed = await within("readwrite", "entries", (store, give) => {
    const request = store.get(uid);
    request.onsuccess = () => {
      const next = request.result && decide(request.result);
      if (next) store.put(next);
      if (next === null) store.delete(uid);
      give(next);
    };
  });
  tell();
  return changed;
}

// The same over every entry.
export async function changeEach(decide) {
  await within("readwrite", "entries", (store) => {
    const request = store.openCursor();
    request.onsuccess = () => {
      const cursor = request.result;
      if (!cursor) return;
      const next = decide(cursor.value);
      if (next) cursor.update(next);
      if (next === null) cursor.delete();
      cursor.continue();
    };
  });
  tell();
}

export async function fact(name) {
  const row = await within("readonly", "facts", (store, give) => {
    const request = store.get(name);
    request.onsuccess = () => give(request.result);
  });
  return row?.value;
}

export function setFact(name, value) {
  return within("readwrite", "facts", (store) => store.put({ name, value }));
}

function tell() {
  channel?.postMessage("changed");
  window.dispatchEvent(new Event("store-changed"));
}

channel?.addEventListener("message", () => window.dispatchEvent(new Event("store-changed")));
