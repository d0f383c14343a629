// The queue of entries on this device. An entry gets its key here and is kept until the server
// has answered it, so that a lost answer or a reload never pours twice or loses one.
const RETRY_MS = 3000;
const ANSWER_MS = 5000;
const MOST = 100;
const waiting = new Map();
let sending = false;

function hex(bytes) {
  return Array.from(crypto.getRandomValues(new Uint8Array(bytes)), (b) => b.toString(16).padStart(2, "0")).join("");
}

export const newKey = () => hex(16);

// The key of one entry of an act that makes several, as the server makes it too.
export const keyWithin = (act, n) => act.slice(0, 24) + Number(n).toString(16).padStart(8, "0");

// A small object store, or memory alone where there is none. It keeps the name that it had first,
// for entries may wait in it.
const STORE = "taps";
const opened = new Promise((resolve) => {
  const request = indexedDB.open("kiosk-taps", 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "key" });
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => resolve(null);
});

async function withStore(mode, act) {
  const database = await opened;
  if (!database) return [];
  return new Promise((resolve) => {
    const change = database.transaction(STORE, mode, { durability: "strict" });
    const request = act(change.objectStore(STORE));
    change.oncomplete = () => resolve(request?.result);
    change.onerror = change.onabort = () => resolve([]);
  });
}

async function post(address, rows) {
  const response = await fetch(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify(rows),
    signal: AbortSignal.timeout(ANSWER_MS),
  });
  const { answers } = await response.json();
  if (!answers) throw new Error("not taken");
  return answers;
}

// Opens the queue of this device. An entry is { key, row, made, number }: `row` is what is sent, `made` when,
// by the server's clock. `heard` is told pairs of entry and answer, and the entries stay until it has ended;
// `unheard` is told an entry that the server did not answer: it changes its row into what is told afterwards,
// or returns false where it is to be forgotten; `refused` those that the server never takes: they stay on
// this device until somebody has entered them, and calls `forget(key)`. `changed` is called after each change.
export async function openQueue(address, { heard, unheard, refused, changed }) {
  const stays = [];
  const forget = (key) => withStore("readwrite", (kept) => kept.delete(key));
  const keep = (entries) => withStore("readwrite", (kept) => entries.forEach((entry) => kept.put(entry)));

  async function answer(entry, one) {
    waiting.delete(entry.key);
    if (one.outcome !== "keep") return forget(entry.key);
    stays.push({ ...entry, stays: one.sentence });
    return keep([stays.at(-1)]);
  }

  async function drain() {
    while (waiting.size > 0) {
      const entries = Array.from(waiting.values()).slice(0, MOST);
      const answers = await post(address, entries.map((entry) => entry.row));
      const pairs = answers.filter((one) => waiting.has(one.key)).map((one) => [waiting.get(one.key), one]);
      if (pairs.length === 0) return;
      for (const [entry] of pairs) entry.answered = true;
      await heard(pairs);
      for (const [entry, one] of pairs) await answer(entry, one);
      if (stays.length > 0) refused(stays, forget);
      changed();
    }
  }

  async function send() {
    if (sending) return;
    sending = true;
    try {
      await drain();
    } catch {
      const entries = Array.from(waiting.values());
      for (const entry of entries.filter((one) => unheard(one) === false)) await answer(entry, {});
      await keep(entries.filter((one) => waiting.has(one.key)));
      changed();
    } finally {
      sending = false;
    }
  }

  for (const entry of await withStore("readonly", (kept) => kept.getAll())) {
    if (entry.stays) stays.push(entry);
    else waiting.set(entry.key, entry);
  }
  if (stays.length > 0) refused(stays, forget);
  setInterval(send, RETRY_MS);
  send();
  return {
    entries: () => Array.from(waiting.values()),
    async add(entries) {
      for (const entry of entries) waiting.set(entry.key, entry);
      changed();
      await keep(entries);
      await send();
    },
  };
}
