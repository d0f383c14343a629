// What the whole table must know: a low bottle, what was asked for in a booking, what stops service.
import { html, nothing } from "../vendor/lit-html.js";
import { icon } from "./parts.js";

export function chips({ room, speak, ways }) {
  const needs = room.needs.map((one) => html`<p><b>${one.numbers.join(", ")} ${one.name}</b> ${one.asked.join(" · ")}</p>`);
  return html`${lowBottle(room, speak, ways)}${needs.length > 0
    ? html`<details class="chip"><summary>${speak.count(room.forms.n_needs, needs.length)}</summary><div>${needs}</div></details>` : nothing}`;
}

function lowBottle(room, speak, ways) {
  return room.low.slice(0, 1).map((one) => html`<a class="chip" title=${one.sentence} aria-label="${one.sentence} ${speak.say("open_one")}" href="${ways.opening}&product=${one.product}">${icon("bottles")}<span>${one.name}: ${one.left} <b>${speak.say("open_one")}</b></span></a>`);
}

export function notices({ room, speak, ways }) {
  return html`${room.in_force ? nothing : html`<p class="notice stop"><a href=${ways.rules}>${speak.say("no_rules")}</a></p>`}
    ${room.flight.length > 0 ? nothing : html`<p class="notice"><a href=${ways.flights}>${speak.say("no_flight")}</a></p>`}
    ${room.guests.length > 0 ? nothing : html`<p class="notice">${speak.say("nobody_yet")}</p>`}
    ${room.preset > 0 ? html`<p class="notice ${room.finished ? "wait" : ""}"><a href=${ways.table}>${speak.count(room.forms.n_preset, room.preset)}</a></p>` : nothing}`;
}
