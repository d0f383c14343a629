// The seats, the flight above them and the foot below: what everyone at the table reads at arm's length.
import { html, nothing } from "../vendor/lit-html.js";
import { glassFor, tightest, withoutAlcohol } from "./state.js";
import { dots, icon, stalk, stamp } from "./parts.js";

const BANDS = { not_checked: "id", under_age: "child", no_alcohol: "no-alcohol", limit_reached: "limit", service_stopped: "stop", gone: "arrow" };
const MOST_NAMED = 5;
// The dot of a sample by what became of it.
export const STATES = { had: "had", free: "no_alcohol", skipped: "skipped" };

// What a guest's seat looks like: their state, or that a limit leaves them no more of the chosen sample.
export function lookOf(room, guest, n, now) {
  if (guest.gone) return "gone";
  if (guest.state !== "may_be_served") return guest.state;
  return n >= 0 && (glassFor(room, guest, n, now).limited || Object.values(guest.allowance.left).some(([left]) => left <= 0))
    ? "limit_reached" : "may_be_served";
}

function dotStates(guest, chosen) {
  return guest.flight.map((state, n) => STATES[state] ?? (n < chosen ? "behind" : n === chosen ? "now" : "next"));
}

function foot(room, guest, look, chosen, now, speak) {
  const code = chosen >= 0 ? glassFor(room, guest, chosen, now).code : "";
  if (look !== "may_be_served") {
    return html`<span class="band">${icon(BANDS[look])}<b>${speak.say(`seat_${look}`)}</b></span>`;
  }
  const limit = tightest(room, guest, code, now);
  return limit ? html`<span class="seat-limit">${stalk(limit)}<span class="unseen">${speak.left(limit)}</span><span class="long" aria-hidden="true">${speak.leftShort(room.forms.n_left, limit)}</span><span class="short" aria-hidden="true">${speak.leftNumber(limit)}</span></span>` : html`<span class="seat-limit"></span>`;
}

export function seat(view, guest) {
  const { room, chosen, now, speak, act } = view;
  const look = lookOf(room, guest, chosen, now), behind = guest.flight.slice(0, Math.max(0, chosen)).filter((one) => !one).length;
  const asks = chosen >= 0 && guest.asks[glassFor(room, guest, chosen, now).code];
  const doubt = guest.pours.some((pour) => pour.double);
  const name = speak.say("guest_named", { number: guest.number, name: guest.name });
  return html`<li class="seat" id="guest-${guest.id}" data-guest=${guest.id} data-number=${guest.number} data-look=${look} ?data-sent=${guest.sent}>
    <button class="seat-who" type="button" aria-haspopup="dialog" aria-label=${speak.say("more_about", { guest: name })} @click=${() => act.open(guest.id)}>${stamp(guest.number, look)}</button>
    <button class="seat-pour" type="button" @click=${(event) => act.press(guest, event)}>
      <span class="seat-name"><span class="unseen">${speak.say("guest", { number: guest.number })}</span>${guest.name}</span>
      ${guest.allergens ? html`<span class="seat-allergy ${asks ? "hit" : ""}">${icon("allergy")}${guest.allergens}</span>` : nothing}
      <span class="seat-dots-line">${dots(dotStates(guest, chosen))}<span class="unseen">${speak.count(room.forms.n_pours, guest.count)}</span>
        ${guest.language !== view.language ? html`<abbr class="seat-language" title=${guest.language}>${guest.language.toUpperCase()}</abbr>` : nothing}
        ${doubt ? html`<span class="seat-tab doubt">${speak.say("one_or_two")}</span>` : guest.flag ? html`<span class="seat-tab doubt">${speak.say("tell_manager")}</span>`
          : behind && !withoutAlcohol(guest) && look === "may_be_served" ? html`<span class="seat-tab">${speak.count(room.forms.n_behind, behind)}</span>` : nothing}</span>
      ${foot(room, guest, look, chosen, now, speak)}
    </button></li>`;
}

export function flight(view) {
  const { room, chosen, speak, act } = view;
  return room.flight.map((one, n) => {
    const glass = room.glasses[one.glass], had = room.guests.filter((guest) => guest.flight[n]).length;
    const all = had > 0 && room.guests.every((guest) => guest.flight[n] || guest.gone || guest.state === "service_stopped");
    return html`<li><button type="button" aria-pressed=${n === chosen ? "true" : "false"} class=${all ? "all" : ""} @click=${() => act.choose(n)}>
      ${dots([n === chosen ? "now" : all ? "had" : "next"])}<b>${glass.name}</b>
      <span>${had ? speak.say("had_of", { n: speak.number(had), all: speak.number(room.guests.length) }) : glass.size}</span></button></li>`;
  });
}

// Who is left out of the round, by the reason that comes first.
function leftOut(view, left) {
  const { room, speak } = view, groups = new Map();
  for (const { guest, why, asks } of left) {
    const word = asks ?? room.words[`left_${why[0]}`] ?? speak.reason(why[0]);
    groups.set(word, [...(groups.get(word) ?? []), guest.number]);
  }
  return Array.from(groups, ([word, numbers]) => html`<span><b>${numbers.length > MOST_NAMED ? speak.count(room.forms.n_guests, numbers.length) : numbers.join(", ")}</b> ${word}</span>`);
}

export function bar(view) {
  const { room, speak, act, round, undo, message, asked, ways } = view;
  const open = room.guests.some((guest) => guest.state === "not_checked" && !guest.gone);
  const parts = new Map();
  for (const { code } of round.pours) parts.set(code, (parts.get(code) ?? 0) + 1);
  const what = Array.from(parts, ([code, n]) => `${speak.number(n)} ${room.glasses[code].name}`).join(" · ");
  const told = asked.length > 0 ? html`<span class="bar-asked">${speak.say("changed_meanwhile", { guests: asked.map((one) => one.number).join(", ") })}
      <button type="button" class="button" @click=${act.pourAnyway}>${speak.say("pour_another")}</button>
      <button type="button" class="button" @click=${act.leave}>${speak.say("leave_it")}</button></span>`
    : message ? html`<span>${message}</span>` : round.left.length > 0 ? html`<span>${speak.say("not_in_round")}</span>${leftOut(view, round.left)}${open ? html`<b class="bar-born">${ways.born}</b>` : nothing}` : nothing;
  return html`<div class="bar-told" role="status">${told}</div>
    ${undo ? html`<button type="button" class="button undo" data-control="undo" @click=${act.undo}>${icon("undo")}<span>${speak.say(undo.round ? "undo_round" : "undo")}<small>${undo.label}</small></span></button>` : nothing}
    ${round.pours.length > 0 ? html`<button type="button" class="next" data-control="round" @click=${act.pourRound}>${icon("room")}<span><b>${speak.count(room.forms.pour_for, round.pours.length)}</b><small>${what}</small></span></button>` : nothing}`;
}
