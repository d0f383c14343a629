// The room: one press, one entry. The tile answers at once, and again when the server has.
// Without this script the same forms post themselves.
import { entriesOf } from "./room_forms.js";
import { queue } from "./entries.js";
import { listKept } from "./kept.js";

const room = document.querySelector("[data-room]");
const said = document.querySelector("[data-said]");
const SAID_MS = 8000;

function tileOf(guest) {
  return room.querySelector(`[data-guest="${guest}"]`);
}

// What is said about a guest goes away by itself: the whole table can read it.
function tell(guest, sentence) {
  const line = tileOf(guest)?.querySelector("[data-tile-said]");
  said.textContent = sentence;
  if (!line) return;
  line.textContent = sentence;
  setTimeout(() => { if (line.textContent === sentence) line.textContent = ""; }, SAID_MS);
}

// An entry that waits is shown as sent, on a page that was opened again too: pressed anew it would pour twice.
function unsent(entries) {
  for (const { guest, round } of entries) {
    const tile = tileOf(guest), line = tile?.querySelector("[data-tile-said]");
    for (const one of [tile, round && document.getElementById("round-bar")]) one?.setAttribute("data-sent", "");
    if (line) line.textContent = room.dataset.unsent;
  }
  said.textContent = room.dataset.unsent;
}

function fade(tile) {
  const undo = tile.querySelector("[data-undo]");
  if (undo) setTimeout(() => undo.remove(), Number(undo.dataset.undo) * 1000);
}

function swap(fresh) {
  for (const part of fresh.querySelectorAll("[data-swap]")) document.getElementById(part.id)?.replaceWith(part);
}

// Where the page may not be had any more it is loaded anew, which says why; but never while it lists what
// this device keeps: a revoked device could not show that list again.
function leave(guest, sentence) {
  if (document.querySelector("[data-stays]").hidden) location.reload();
  else if (guest && sentence) tell(guest, sentence);
}

async function refresh(guest, sentence) {
  const answer = await fetch(room.dataset.tile + guest, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.redirected) return leave(guest, sentence);
  const open = tileOf(guest).contains(document.activeElement);
  const fresh = document.createElement("template");
  fresh.innerHTML = (await answer.text()).trim();
  const tile = fresh.content.firstElementChild;
  tileOf(guest).replaceWith(tile);
  swap(fresh.content);
  if (open) tile.querySelector("button, summary")?.focus();
  if (sentence) tell(guest, sentence);
  fade(tile);
}

// Every tile and what came of a round, in one page instead of one by one.
async function refreshAll(round) {
  const answer = await fetch(`${location.pathname}?round=${round}`, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.redirected) return leave();
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  room.replaceChildren(...fresh.querySelector("[data-room]").children);
  swap(fresh);
  for (const tile of room.children) fade(tile);
  document.getElementById("round").scrollIntoView({ block: "nearest" });
}

async function settled(pairs) {
  const round = pairs.map(([entry]) => entry.round).find(Boolean);
  if (round) await refreshAll(round);
  for (const [entry, answer] of pairs) {
    const touched = new Set([entry.guest, String(entry.row.guest ?? entry.guest)]);
    for (const guest of entry.round ? [] : touched) {
      if (tileOf(guest)) await refresh(guest, guest === entry.guest ? answer.sentence : "");
    }
  }
}

if (room) {
  const keep = queue(room.dataset.intake, settled, unsent, listKept);
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("ledger" in form.dataset || "round" in form.dataset)) return;
    event.preventDefault();
    const pressed = form.closest("[data-guest], [data-swap]");
    if (pressed.hasAttribute("data-sent")) return;
    const entries = entriesOf(form, event.submitter);
    for (const one of [pressed, ...entries.map((entry) => tileOf(entry.guest))]) one?.setAttribute("data-sent", "");
    keep.then((send) => send(entries));
  });
  for (const tile of room.children) fade(tile);
}
