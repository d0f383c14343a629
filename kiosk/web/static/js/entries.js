// The queue of entries on this device. An entry gets its key here and is kept until the server
// has answered it, so that a lost answer or a reload never pours twice or loses one.
const RETRY_MS = 3000;
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

const ask = (address, rows) => fetch(address, {
  method: "POST",
  headers: { "Content-Type": "application/json", Accept: "application/json" },
  body: JSON.stringify(rows),
});

// An entry that waited for the network keeps the time when it was made, by the server's clock: this
// device's may be wrong. Pours are decided when they arrive, and have no time of their own.
async function date(address) {
  const late = Array.from(waiting.values()).filter((one) => one.late && one.row.ledger !== "pours" && !one.row.at);
  if (late.length === 0) return;
  const now = Date.parse((await ask(address, [])).headers.get("Date"));
  if (now) for (const { row, made } of late) row.at = new Date(now - (Date.now() - made)).toISOString();
}

async function post(address, rows) {
  const response = await ask(address, rows);
  const { answers } = await response.json();
  if (!answers) throw new Error("not taken");
  return answers;
}

// Returns `keep(entries)`; an entry is { key, guest, row }. `settled` is told pairs of entry and answer,
// `unsent` the entries that the server has not taken, `refused` those that it never will: they stay on
// this device until somebody has entered them, and calls `forget(key)`.
export async function queue(address, settled, unsent, refused) {
  const stays = [];
  const forget = (key) => withStore("readwrite", (kept) => kept.delete(key));
  async function send() {
    if (sending) return;
    sending = true;
    try {
      await date(address);
      while (waiting.size > 0) {
        const rows = Array.from(waiting.values(), (entry) => entry.row).slice(0, MOST);
        const answers = (await post(address, rows)).filter((answer) => waiting.has(answer.key));
        const pairs = answers.map((answer) => [waiting.get(answer.key), answer]);
        for (const [entry, answer] of pairs) {
          waiting.delete(entry.key);
          if (answer.outcome === "keep") stays.push({ ...entry, stays: answer.sentence });
        }
        await withStore("readwrite", (kept) => pairs.forEach(([entry, answer]) => {
          if (answer.outcome === "keep") kept.put(stays.find((one) => one.key === entry.key));
          else kept.delete(entry.key);
        }));
        if (stays.length > 0) refused(stays, forget);
        await settled(pairs);
        if (pairs.length === 0) break;
      }
    } catch {
      for (const entry of waiting.values()) entry.late = true;
      unsent(Array.from(waiting.values()));
    } finally {
      sending = false;
    }
  }
  for (const entry of await withStore("readonly", (kept) => kept.getAll())) {
    if (entry.stays) stays.push(entry);
    else waiting.set(entry.key, { ...entry, late: true });
  }
  if (stays.length > 0) refused(stays, forget);
  if (waiting.size > 0) unsent(Array.from(waiting.values()));
  setInterval(send, RETRY_MS);
  send();
  return async (entries) => {
    for (const entry of entries) waiting.set(entry.key, { ...entry, made: Date.now() });
    await withStore("readwrite", (kept) => entries.forEach((entry) => kept.put(waiting.get(entry.key) ?? entry)));
    await send();
  };
}
