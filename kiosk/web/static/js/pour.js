// One tap, one row. A tap gets its key here and is kept until the server has
// answered it, so that a lost answer or a reload never pours twice or loses one.
// Without this script the same forms post themselves.
const room = document.querySelector("[data-room]");
const said = document.querySelector("[data-said]");
const waiting = new Map();
const RETRY_MS = 3000;
const UNDO_MS = 20000;
const NUMBERS = new Set(["guest", "volume_ul"]);
let sending = false;

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function rowOf(form) {
  const row = { ledger: form.dataset.tap, by: Number(room.dataset.by) };
  for (const [name, value] of new FormData(form)) {
    if (name !== "form_token") row[name] = NUMBERS.has(name) ? Number(value) : value;
  }
  row.key = newKey();
  return row;
}

// The queue on this device: a small object store, or memory alone where there is none.
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
    change.oncomplete = () => resolve(request.result);
    change.onerror = change.onabort = () => resolve([]);
  });
}

function tileOf(guest) {
  return room.querySelector(`[data-guest="${guest}"]`);
}

function tell(guest, sentence) {
  const line = tileOf(guest)?.querySelector("[data-tile-said]");
  if (line) line.textContent = sentence;
  said.textContent = sentence;
}

async function refresh(guest, sentence) {
  const answer = await fetch(room.dataset.tile + guest, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.redirected) return location.reload();
  const open = tileOf(guest).contains(document.activeElement);
  const fresh = document.createElement("template");
  fresh.innerHTML = (await answer.text()).trim();
  const tile = fresh.content.firstElementChild;
  tileOf(guest).replaceWith(tile);
  if (open) tile.querySelector("button, summary")?.focus();
  if (sentence) tell(guest, sentence);
  const undo = tile.querySelector("[data-undo]");
  if (undo) setTimeout(() => undo.remove(), UNDO_MS);
}

async function send() {
  if (sending || waiting.size === 0) return;
  sending = true;
  try {
    const rows = Array.from(waiting.values(), (tap) => tap.row).slice(0, 100);
    const response = await fetch(room.dataset.intake, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json" },
      body: JSON.stringify(rows),
    });
    const { answers } = await response.json();
    if (!answers) throw new Error("not taken");
    for (const answer of answers) await settle(answer);
  } catch {
    for (const { guest } of waiting.values()) tell(guest, room.dataset.unsent);
  } finally {
    sending = false;
  }
}

async function settle(answer) {
  const tap = waiting.get(answer.key);
  if (!tap) return;
  waiting.delete(answer.key);
  await withStore("readwrite", (taps) => taps.delete(answer.key));
  if (tileOf(tap.guest)) await refresh(tap.guest, answer.sentence);
}

async function keep(guest, row) {
  const tap = { key: row.key, guest, row };
  waiting.set(row.key, tap);
  tileOf(guest)?.setAttribute("data-pending", "");
  await withStore("readwrite", (taps) => taps.put(tap));
  await send();
}

room?.addEventListener("submit", (event) => {
  const tile = event.target.closest("[data-guest]");
  if (!event.target.dataset.tap) return;
  event.preventDefault();
  if (!tile.hasAttribute("data-pending")) keep(tile.dataset.guest, rowOf(event.target));
});

if (room) {
  for (const tap of await withStore("readonly", (taps) => taps.getAll())) waiting.set(tap.key, tap);
  setInterval(send, RETRY_MS);
  send();
}
