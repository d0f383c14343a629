// The room: one script over one state. It is drawn from what the server sent with this tablet's own unsent
// entries applied, online and offline alike, and asks for what is newer every two seconds.
import { render } from "../vendor/lit-html.js";
import { keyWithin, newKey, openQueue } from "../entries.js";
import { listKept } from "../kept.js";
import { guard, isGuarded } from "./guard.js";
import { fits } from "./allowance.js";
import { speaker } from "./parts.js";
import { STATES, bar, flight, lookOf, seat } from "./seats.js";
import { chips, notices } from "./notices.js";
import { sheet } from "./sheet.js";
import { glassFor, nextSample, round, shown } from "./state.js";

const EVERY_MS = 2000, PATIENCE_MS = 4000, UNDO_MS = 110000, TOLD_MS = 8000, A_ROUND = 3;
const page = document.querySelector("[data-room]"), dialog = document.querySelector("[data-sheet]");
const parts = Object.fromEntries(["seats", "flight", "room-bar", "room-chips", "room-notices"].map((name) => [name, document.querySelector(`.${name}`)]));
let state = null, etag = "", ahead = 0, aloneSince = 0, queue = null;
let picked = -1, lastDue = 0, open = null, undo = null, message = "", asked = [];

document.querySelector("[data-unscripted]").remove();

const now = () => Date.now() + ahead;
const alone = () => aloneSince > 0;

async function ask() {
  const answer = await fetch(page.dataset.state, { headers: etag ? { "If-None-Match": etag } : {}, cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  if (answer.redirected || [401, 403, 404].includes(answer.status)) return leave();
  if (answer.status !== 304 && !answer.ok) throw new Error(`answered ${answer.status}`);
  if (answer.status === 200) {
    const fresh = await answer.json();
    if (state && fresh.as_of < state.as_of) return; // two were asked for at once, and the older one came last
    state = fresh;
    etag = answer.headers.get("ETag") ?? "";
    ahead = state.as_of - Date.now();
  }
  aloneSince = 0;
}

async function refresh() {
  try {
    await ask();
  } catch {
    if (!alone()) aloneSince = now();
  }
  draw();
}

// Where the room may not be had any more the page is loaded anew, which says why; but never while something
// waits to be sent, or while it lists what this device keeps.
function leave() {
  if (document.querySelector("[data-stays]").hidden && !queue?.entries().length) location.reload();
}

function tell(text) {
  message = text;
  setTimeout(() => { if (message === text) { message = ""; draw(); } }, TOLD_MS);
}

function draw() {
  if (!state) return;
  const room = shown({ ...state, zone: page.dataset.zone }, queue?.entries() ?? []);
  const chosen = choose(room);
  if (undo && now() > undo.until) undo = null;
  const speak = speaker(room, page.dataset.locale);
  const view = { room, chosen, speak, act, open, undo, message, asked, now: now(), language: document.documentElement.lang,
    round: chosen >= 0 ? round(room, chosen, now()) : { pours: [], left: [] }, ways: page.dataset, isManager: "manager" in page.dataset };
  render(flight(view), parts.flight);
  render(room.guests.map((guest) => seat(view, guest)), parts.seats);
  render(bar(view), parts["room-bar"]);
  render(chips(view), parts["room-chips"]);
  render(notices(view), parts["room-notices"]);
  document.querySelector(".bar h1").textContent = speak.say("tour", { letter: room.letter });
  drawSheet(view);
  drawAlone(speak);
  act.view = view;
  guard(document);
}

// The chosen sample stays while some of it are due: what lies under the thumb is no other glass of a sudden.
// It moves on when nobody is left, and after a round, here or on another tablet, whoever is out of step.
function choose(room) {
  const dueOf = (n) => (room.flight[n] ? round(room, n, now()).pours.length : 0), due = dueOf(picked);
  if (due === 0 || lastDue - due >= A_ROUND) picked = nextSample(room);
  lastDue = dueOf(picked);
  return picked;
}

function drawSheet(view) {
  const guest = open && view.room.byId.get(open.guest);
  if (!guest) return dialog.open && dialog.close();
  const states = guest.flight.map((one, n) => STATES[one] ?? (n === view.chosen ? "now" : "next"));
  render(sheet(view, guest, lookOf(view.room, guest, view.chosen, view.now), states), dialog);
  if (!dialog.open) dialog.showModal();
}

function drawAlone(speak) {
  const line = document.querySelector("[data-alone]"), waits = queue?.entries().length ?? 0;
  line.hidden = !alone();
  if (alone()) line.textContent = speak.say("alone", { time: speak.time(aloneSince), n: speak.number(waits) });
}

const own = () => ({ by: Number(page.dataset.by), sign_in: page.dataset.signIn });

function entryOf(guest, row, key = newKey()) {
  return { key, guest: guest?.id, number: guest?.number, made: now(), row: { key, ...own(), ...row } };
}

// Asked for, with what this tablet believes of the guest: the rules of the server decide. Alone, what is left by
// its last word decides, and the glass is told when it is heard again.
function pourOf(guest, code, key) {
  const { product, volume_ul } = state.glasses[code];
  const believed = { count: guest.count, skipped: guest.skipped, as_of: new Date(state.known_at).toISOString() };
  const told = { asked: false, at: new Date(now()).toISOString() }, asked = { tour: Number(page.dataset.tour) };
  return entryOf(guest, { ledger: "pours", guest: guest.id, product, volume_ul, believed, ...(alone() ? told : asked) }, key);
}

const send = (entries) => queue.add(entries.filter(Boolean));

const act = {
  choose(n) {
    picked = n;
    lastDue = 0;
    draw();
  },
  open(guest) { open = { guest, panel: "" }; draw(); },
  close() { open = null; draw(); },
  panel(name) { open.panel = open.panel === name ? "" : name; draw(); },
  press(guest, event) {
    const { room, chosen } = act.view;
    const glass = chosen >= 0 && !guest.gone && !guest.flight[chosen] ? glassFor(room, guest, chosen, now()) : null;
    const poured = glass && glass.why.length === 0 && guest.state !== "service_stopped" && !guest.asks[glass.code];
    if (isGuarded(event.currentTarget)) return;
    if (poured) act.pour(guest, glass.code);
    else act.open(guest.id);
  },
  pour(guest, code) {
    const why = fits(guest.allowance, state.glasses[code], now());
    open = null;
    if (why.length > 0) { tell(why.map(act.view.speak.reason).join(" ")); return draw(); }
    const entry = pourOf(guest, code);
    undo = { row: { ledger: "pour_marks", kind: "void", pour: entry.key }, guest, label: `${guest.number} ${state.glasses[code].name}`, until: now() + UNDO_MS };
    send([entry]);
  },
  pourRound(event) {
    if (isGuarded(event.currentTarget)) return;
    const { round: due, chosen, room } = act.view, key = newKey();
    undo = { round: true, row: { ledger: "pour_marks", kind: "void", round: key }, label: `${room.glasses[room.flight[chosen].glass].name}, ${due.pours.length}`, until: now() + UNDO_MS };
    send(due.pours.map(({ guest, code }) => pourOf(guest, code, keyWithin(key, guest.id))));
  },
  undo(event) {
    if (!undo || isGuarded(event.currentTarget)) return;
    const entry = entryOf(undo.guest, undo.row);
    undo = null;
    send([entry]);
  },
  mark(guest, kind, more = {}) { open = null; send([entryOf(guest, { ledger: "marks", guest: guest.id, kind, ...more })]); },
  skip(guest) {
    const { chosen } = act.view, place = chosen >= 0 && !guest.flight[chosen] ? chosen : guest.flight.indexOf("");
    act.mark(guest, "declined", { detail: state.flight[place].glass.split(" ")[0], place });
  },
  correct(guest, pour, kind, more = {}) { open = null; send([entryOf(guest, { ledger: "pour_marks", pour: pour.key, kind, ...more })]); },
  correctByForm(event, guest, pour) {
    event.preventDefault();
    const { kind, reason, guest: to } = Object.fromEntries(new FormData(event.target));
    act.correct(guest, pour, kind, { reason, ...(to ? { guest: Number(to) } : {}) });
  },
  pourAnyway() {
    const { room } = act.view, here = asked.map(({ id, code }) => ({ guest: room.byId.get(id), code }));
    const again = here.filter(({ guest, code }) => guest && fits(guest.allowance, state.glasses[code], now()).length === 0)
      .map(({ guest, code }) => pourOf(guest, code));
    asked = [];
    send(again);
  },
  leave() { asked = []; draw(); },
};

// The room is read again before answered entries leave the screen, however long that takes: without them an
// older state would show a round as still due.
async function heard(pairs) {
  while (!(await ask().then(() => true, () => false))) {
    if (!alone()) aloneSince = now();
    draw();
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  }
  for (const [entry, answer] of pairs) {
    const { row } = entry;
    if (answer.outcome === "changed") asked.push({ id: row.guest, number: entry.number, code: `${row.product} ${row.volume_ul}` });
    else if (answer.reasons.length > 0 || !["poured", "marked", "corrected"].includes(answer.outcome)) tell([entry.number, answer.sentence].filter(Boolean).join(": "));
  }
}

// The server did not answer: a glass that the last allowance lets be poured was poured, and is told so later.
function unheard(entry) {
  if (!alone()) aloneSince = now();
  const { row } = entry;
  if (row.at) return true;
  row.at = new Date(entry.made).toISOString();
  if (row.ledger !== "pours") return true;
  row.asked = false;
  delete row.tour; // a fact, wherever the guest is now
  const glass = state?.glasses[`${row.product} ${row.volume_ul}`], guest = state?.guests.find((one) => one.id === row.guest);
  const why = glass && guest ? fits(guest.allowance, glass, entry.made) : [];
  if (why.length > 0) tell(`${entry.number}: ${why.map(act.view.speak.reason).join(" ")}`);
  return why.length === 0;
}

dialog.addEventListener("close", () => { if (open) act.close(); });
queue = await openQueue(page.dataset.intake, { heard, unheard, refused: listKept, changed: draw });
await refresh();
setInterval(refresh, EVERY_MS);
