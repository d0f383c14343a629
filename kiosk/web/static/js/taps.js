// The queue of taps on this device. A tap gets its key here and is kept until the server
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

// A small object store, or memory alone where there is none.
const opened = new Promise((resolve) => {
  const request = indexedDB.open("kiosk-taps", 1);
  request.onupgradeneeded = () => request.result.createObjectStore("taps", { keyPath: "key" });
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => resolve(null);
});

async function withStore(mode, act) {
  const database = await opened;
  if (!database) return [];
  return new Promise((resolve) => {
    const change = database.transaction("taps", mode, { durability: "strict" });
    const request = act(change.objectStore("taps"));
    change.oncomplete = () => resolve(request?.result);
    change.onerror = change.onabort = () => resolve([]);
  });
}

async function post(address, rows) {
  const response = await fetch(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify(rows),
  });
  const { answers } = await response.json();
  if (!answers) throw new Error("not taken");
  return answers;
}

// Returns `keep(taps)`; a tap is { key, guest, row }. `settled` is told pairs of tap and answer,
// `unsent` the taps that the server has not taken.
export async function queue(address, settled, unsent) {
  async function send() {
    if (sending) return;
    sending = true;
    try {
      while (waiting.size > 0) {
        const rows = Array.from(waiting.values(), (tap) => tap.row).slice(0, MOST);
        const answers = (await post(address, rows)).filter((answer) => waiting.has(answer.key));
        const pairs = answers.map((answer) => [waiting.get(answer.key), answer]);
        for (const [tap] of pairs) waiting.delete(tap.key);
        await withStore("readwrite", (taps) => pairs.forEach(([tap]) => taps.delete(tap.key)));
        await settled(pairs);
        if (pairs.length === 0) break;
      }
    } catch {
      unsent(Array.from(waiting.values()));
    } finally {
      sending = false;
    }
  }
  for (const tap of await withStore("readonly", (taps) => taps.getAll())) waiting.set(tap.key, tap);
  if (waiting.size > 0) unsent(Array.from(waiting.values()));
  setInterval(send, RETRY_MS);
  send();
  return async (taps) => {
    for (const tap of taps) waiting.set(tap.key, tap);
    await withStore("readwrite", (store) => taps.forEach((tap) => store.put(tap)));
    await send();
  };
}
