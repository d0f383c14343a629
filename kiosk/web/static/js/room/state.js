// The room as this tablet shows it: what the server sent, with the entries that it has not answered applied.
import { fits, remainder, spend } from "./allowance.js";

const TAKEN_BACK = ["void", "not_served", "cleared"];
const RESTRICTING = ["under_age", "no_alcohol", "service_stopped", "gone"];

export function shown(state, entries) {
  const room = structuredClone(state);
  room.byId = new Map(room.guests.map((guest) => [guest.id, guest]));
  room.byPour = new Map(room.guests.flatMap((guest) => guest.pours.map((pour) => [pour.key, guest])));
  for (const entry of entries) apply(room, entry);
  return room;
}

function apply(room, { key, row, made, answered }) {
  const guests = row.ledger !== "pour_marks" ? [room.byId.get(row.guest)]
    : row.round ? room.guests : [room.byPour.get(row.pour)];
  for (const guest of guests.filter(Boolean)) {
    if (!row.round) guest.sent = !answered;
    if (row.ledger === "pours") pour(room, guest, key, row, made);
    else if (row.ledger === "marks") mark(guest, row);
    else takeBack(room, guest, row);
  }
}

function pour(room, guest, key, row, made) {
  if (room.byPour.has(key)) return; // the state has it already: its answer was lost, or is on its way
  const code = `${row.product} ${row.volume_ul}`, glass = room.glasses[code];
  const inTurn = withoutAlcohol(guest) && glass.free;
  const n = inTurn ? guest.flight.indexOf("")
    : room.flight.findIndex((one, place) => !guest.flight[place] && [one.glass, one.free].includes(code));
  if (n >= 0) guest.flight[n] = !inTurn && room.flight[n].glass === code ? "had" : "free";
  guest.count += 1;
  guest.pours.unshift({ key, name: glass.name, time: "", by: "", at: made, done: false, undo_until: 0, double: false, place: n });
  room.byPour.set(key, guest);
  spend(guest.allowance, glass, made);
}

function mark(guest, row) {
  if (row.kind === "declined") {
    guest.skipped += 1;
    if (row.place >= 0) guest.flight[row.place] = "skipped";
  } else if (RESTRICTING.includes(row.kind)) {
    guest.allowance.blocked.push(row.kind);
    if (row.kind === "gone") guest.gone = true;
    else guest.state = row.kind;
  }
}

// What is taken back gives nothing back until the server has answered: that is the careful side.
function takeBack(room, guest, row) {
  const isMeant = (pour) => (row.round ? pour.key.slice(0, 24) === row.round.slice(0, 24) : pour.key === row.pour);
  for (const taken of guest.pours.filter(isMeant)) {
    if (![...TAKEN_BACK, "reassign"].includes(row.kind)) continue;
    guest.count -= 1;
    guest.pours = guest.pours.filter((pour) => pour !== taken);
    if (taken.place >= 0) guest.flight[taken.place] = "";
  }
}

export const withoutAlcohol = (guest) => ["under_age", "no_alcohol"].includes(guest.state);

// The glass that a guest gets in the place of one sample, and what is against it.
export function glassFor(room, guest, n, now) {
  const planned = room.flight[n], free = planned.free || room.free;
  const against = (code) => fits(guest.allowance, room.glasses[code], now);
  if (withoutAlcohol(guest) && free) return { code: free, why: [] };
  const why = against(planned.glass);
  const limited = why.length > 0 && why.every((one) => room.limits.some((limit) => limit.id === one));
  if (limited && free) return { code: free, why: [], limited: why };
  return { code: planned.glass, why };
}

// Who has the sample `n` next in a round: `pours`, and `left` with the reasons of those left out of it.
export function round(room, n, now) {
  const pours = [], left = [];
  for (const guest of room.guests) {
    if (guest.gone || guest.flight[n]) continue;
    const { code, why } = glassFor(room, guest, n, now);
    if (guest.state === "service_stopped") left.push({ guest, why: ["service_stopped"] });
    else if (why.length > 0) left.push({ guest, why });
    else if (guest.asks[code]) left.push({ guest, asks: guest.asks[code] });
    else pours.push({ guest, code });
  }
  return { pours, left };
}

// The sample that most guests have next; of two, the earlier one.
export function nextSample(room) {
  const next = room.guests.filter((guest) => !guest.gone && guest.state !== "service_stopped")
    .map((guest) => guest.flight.indexOf("")).filter((n) => n >= 0);
  const count = (n) => next.filter((one) => one === n).length;
  return next.length === 0 ? -1 : next.reduce((best, n) => (count(n) > count(best) || (count(n) === count(best) && n < best) ? n : best));
}

// The limit of which fewest such glasses are left to a guest, and what is left of it.
export function tightest(room, guest, code, now) {
  const glass = room.glasses[code];
  const limits = room.limits.map((limit) => {
    const own = Object.keys(guest.allowance.left).filter((key) => key.split("@")[0] === limit.id);
    const key = own.find((one) => one === `${limit.id}@${glass?.product}`) ?? (own.includes(limit.id) ? limit.id : null);
    if (!key) return null;
    const left = Math.max(0, remainder(guest.allowance, key, now)), cost = glass?.cost[key] ?? 0;
    return { limit, left, glasses: cost ? Math.floor(left / cost) : Infinity, share: left / limit.most };
  });
  return limits.filter(Boolean).sort((a, b) => a.glasses - b.glasses || a.share - b.share)[0] ?? null;
}
