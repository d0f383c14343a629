// What may be done for one guest, in a sheet from below: the pours first, what ends service apart at its foot.
import { html, nothing } from "../vendor/lit-html.js";
import { glassFor, tightest } from "./state.js";
import { dots, icon, stalk, stamp } from "./parts.js";
import { fits } from "./allowance.js";

const REASONS = ["wrong_guest", "wrong_sample", "entered_twice", "not_taken", "spilled", "nothing_poured"];
const ENDS = { under_age: "child", service_stopped: "stop" };

export function sheet(view, guest, look, states) {
  const { room, speak, act, now, open } = view;
  const code = view.chosen >= 0 ? glassFor(room, guest, view.chosen, now).code : "";
  const limit = tightest(room, guest, code, now);
  const button = (name, press, kind = "", drawn = "") => html`<button type="button" class="button ${kind}" data-control=${name}
    aria-expanded=${open.panel === name ? "true" : nothing} @click=${press}>${drawn ? icon(drawn) : nothing}<span>${speak.say(name)}</span></button>`;
  const panel = (name, drawn) => button(name, () => act.panel(name), "", drawn);
  const mark = (kind, drawn = "", look = "") => button(kind, () => act.mark(guest, kind), look, drawn);
  const last = guest.pours[0], may = guest.state === "may_be_served" && !guest.gone;
  return html`<header class="sheet-head">${stamp(guest.number, look)}
      <h2>${speak.say("guest_named", { number: guest.number, name: guest.name })} <abbr>${guest.language.toUpperCase()}</abbr></h2>
      ${dots(states)}<button type="button" class="button close" aria-label=${speak.say("close")} @click=${act.close}>×</button></header>
    ${guest.flag ? html`<p class="notice stop">${guest.flag}</p>` : nothing}
    ${guest.behind ? html`<p>${guest.behind}</p>` : nothing}
    ${guest.allergens ? html`<p class="seat-allergy">${icon("allergy")}${guest.allergens}</p>` : nothing}
    ${limit ? html`<p class="sheet-limit">${stalk(limit)}<b>${speak.left(limit)}</b> <span>${speak.say("drinks_served", { n: guest.had })}</span></p>` : nothing}
    ${doubles(view, guest)}
    ${guest.state === "not_checked" && !guest.gone ? html`<p class="born"><b>${view.ways.born}</b> ${view.ways.bornOrders}</p><div class="sheet-main">${mark("id_check", "id", "next")}${mark("no_alcohol", "no-alcohol")}</div>` : nothing}
    ${guest.gone ? nothing : pours(view, guest, may)}
    <div class="sheet-ways">
      ${may && room.offers.length > 0 ? panel("other_pour", "room") : nothing}
      ${may && guest.flight.includes("") ? button("skip", () => act.skip(guest), "", "arrow") : nothing}
      ${last ? panel("take_back", "undo") : nothing}
      ${last && room.guests.length > 1 ? panel("move_pour", "people") : nothing}
      ${last ? button("unfinished", () => act.correct(guest, last, "unfinished")) : nothing}
      ${last && !last.done && room.limits.some((one) => one.kind === "glasses") ? button("finished", () => act.correct(guest, last, "finished")) : nothing}
      ${may ? mark("no_alcohol", "no-alcohol") : guest.state === "no_alcohol" ? mark("no_alcohol_lifted") : nothing}
      ${guest.state === "under_age" ? mark("id_check", "id") : guest.state === "service_stopped" && view.isManager ? mark("service_resumed") : nothing}
      ${mark(guest.gone ? "back" : "gone")}
      <a class="button" href="${view.ways.turn}${guest.id}/turn">${icon("language")}<span>${speak.say("show_guest")}</span></a>
    </div>
    ${panelOf(view, guest, last)}
    ${guest.claimed ? html`<p>${guest.claimed}. ${speak.say("claimed_counts")} ${guest.typed_in.join(" ")}</p>` : nothing}
    <footer class="sheet-ends"><p>${speak.say("asks_again")}</p>
      ${Object.entries(ENDS).map(([kind, drawn]) => (kind === guest.state ? nothing : button(kind, () => act.panel(kind), `end ${kind}`, drawn)))}</footer>`;
}

function pours(view, guest, may) {
  const { room, speak, act, now, chosen } = view;
  const open = guest.flight.map((state, n) => (state ? -1 : n)).filter((n) => n >= 0 && n <= Math.max(chosen, guest.flight.indexOf("")));
  if (may && !guest.flight.includes("")) return html`<p>${speak.say("all_served")}</p>`;
  return html`<div class="sheet-main">${open.slice(-3).map((n) => {
    const { code, why } = glassFor(room, guest, n, now), glass = room.glasses[code];
    if (guest.state === "not_checked" && !glass.free) return nothing;
    return html`<button type="button" class=${n === chosen ? "button next" : "button strong"} ?disabled=${why.length > 0} @click=${() => act.pour(guest, code)}>${icon("room")}<span>
      <b>${speak.say("pour", { sample: glass.name })}</b><small>${why.length > 0 ? why.map(speak.reason).join(" ") : guest.asks[code] ? speak.say("ask_first", { allergens: guest.asks[code] }) : glass.size}</small></span></button>`;
  })}${room.free && guest.state !== "may_be_served" ? html`<button type="button" class="button" @click=${() => act.pour(guest, room.free)}>${icon("no-alcohol")}<span>${room.glasses[room.free].name}</span></button>` : nothing}</div>`;
}

function doubles(view, guest) {
  const { speak, act } = view;
  return guest.pours.filter((pour) => pour.double).map((pour) => html`<div class="notice wait"><p>${speak.say("is_it_one", { sample: pour.name, time: pour.time, name: pour.by })}</p>
    <button type="button" class="button" @click=${() => act.correct(guest, pour, "confirmed")}>${speak.say("both_poured")}</button>
    <button type="button" class="button" @click=${() => act.correct(guest, pour, "void", { reason: "entered_twice" })}>${speak.say("it_was_one")}</button></div>`);
}

function panelOf(view, guest, last) {
  const { room, speak, act, now, open } = view;
  if (open.panel === "other_pour") return html`<div class="sheet-panel">${room.offers.map((code) => {
    const glass = room.glasses[code], why = fits(guest.allowance, glass, now);
    return html`<button type="button" class="button" ?disabled=${why.length > 0} title=${why.map(speak.reason).join(" ")} @click=${() => act.pour(guest, code)}><span>${glass.name}<small>${glass.size}${guest.asks[code] ? ` · ${speak.say("ask_first", { allergens: guest.asks[code] })}` : ""}</small></span></button>`;
  })}</div>`;
  if (["take_back", "move_pour"].includes(open.panel) && last) return html`<form class="sheet-panel" @submit=${(event) => act.correctByForm(event, guest, last)}>
    <p><b>${last.name}</b> ${last.time} ${last.by}</p>
    ${open.panel === "move_pour" ? html`<label>${speak.say("to_guest")} <select name="guest" required>${room.guests.filter((one) => one.id !== guest.id).map((one) => html`<option value=${one.id}>${one.number} ${one.name}</option>`)}</select></label><input type="hidden" name="kind" value="reassign">`
      : html`<label>${speak.say("what_happened")} <select name="kind"><option value="not_served">${speak.say("not_served")}</option><option value="void">${speak.say("nothing_poured")}</option></select></label>`}
    <label>${speak.say("why")} <select name="reason" required><option value=""></option>${REASONS.map((one) => html`<option value=${one}>${speak.say(`why_${one}`)}</option>`)}</select></label>
    <button class="button strong">${speak.say(open.panel)}</button></form>`;
  if (open.panel in ENDS) return html`<div class="sheet-panel notice stop"><p><b>${speak.say(`sure_${open.panel}`, { guest: guest.number })}</b></p>
    <button type="button" class="button danger" @click=${() => act.mark(guest, open.panel)}>${speak.say(`yes_${open.panel}`)}</button></div>`;
  return nothing;
}
