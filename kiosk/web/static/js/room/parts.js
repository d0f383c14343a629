// The small drawings of a seat. Their shapes are drawn once by the server, in the page's own sheet of symbols.
import { html, nothing, svg } from "../vendor/lit-html.js";

export const icon = (name) => html`<svg class="drawing icon" viewBox="0 0 32 32" aria-hidden="true"><use href="#icon-${name}"></use></svg>`;

const STAMPS = { may_be_served: "round", not_checked: "broken", under_age: "kite", no_alcohol: "drop", limit_reached: "square",
  service_stopped: "octagon", gone: "free" };

// A guest's number on the shape of their state.
export const stamp = (number, look) => html`<span class="stamp-box ${STAMPS[look]}"><svg class="drawing" viewBox="0 0 64 64" aria-hidden="true">
  <use href="#stamp-${STAMPS[look]}"></use></svg><b class=${String(number).length > 2 ? "long" : ""}>${number}</b></span>`;

// A dot for each sample: had, free, skipped, behind, now, next.
export const dots = (states) => html`<span class="seat-dots" aria-hidden="true">${states.map((state) => html`<svg class="drawing"
  viewBox="0 0 16 16"><use href="#dot-${state}"></use></svg>`)}</span>`;

const HEIGHT = 18, WIDTH = 120;

function internode(from, to, state) {
  const [a, b] = [from + 1.6, to - 1.6], waist = Math.min(2.4, (b - a) / 6), m = (a + b) / 2, low = HEIGHT - 2.2;
  return svg`<path class=${state} d="M${a} 2.2Q${m} ${2.2 + waist} ${b} 2.2V${low}Q${m} ${low - waist} ${a} ${low}Z"></path>`;
}

// A limit as a cane stalk: an internode is one measure, the last one shorter where the limit is no multiple.
export function stalk({ limit, left }) {
  const count = limit.most / limit.internode, whole = Math.floor(count + 1e-6), over = count - whole;
  const lengths = [...Array(whole).fill(1), ...(over > 1e-6 ? [over] : [])];
  const scale = (WIDTH - 9) / count, served = (limit.most - left) / limit.internode;
  let edge = 0;
  const parts = lengths.map((length) => {
    const [from, to] = [edge, (edge += length)].map((one) => one * scale);
    const share = Math.min(1, Math.max(0, (served - (edge - length)) / length));
    const empty = share < 1 ? internode(from, to, "internode") : nothing;
    return [empty, share > 0.02 ? internode(from, from + (to - from) * share, "internode on") : nothing,
      svg`<path class=${served > edge - length ? "node on" : "node"} d="M${Math.max(0, from - 1.1)} 0h2.2v${HEIGHT}h-2.2Z"></path>`];
  });
  const full = left <= 0, end = count * scale;
  return svg`<svg class="drawing gauge ${full ? "full" : ""}" viewBox="0 0 ${WIDTH} ${HEIGHT}" aria-hidden="true">${parts}
    <path class=${full ? "cap" : "tip"} d="M${end + 2} 0h6v${HEIGHT}h-6Z"></path></svg>`;
}

function leftOf({ limit, left }) {
  const power = 10 ** limit.digits;
  return Math.floor((left / limit.unit) * power + 1e-9) / power;
}

// Text with its numbers in the page's language: `say("n_guests", 3)` has the form that its count asks for.
export function speaker(room, language) {
  const rules = new Intl.PluralRules(language);
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
  const number = (value, digits = 0) => new Intl.NumberFormat(language, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(value);
  return {
    number,
    say: (name, values = {}) => fill(room.words[name] ?? name, values),
    count: (forms, n, digits = 0) => fill(forms[rules.select(n)] ?? forms.other, { n: number(n, digits) }),
    reason: (code) => room.reasons[code] ?? code,
    time: (at) => new Intl.DateTimeFormat(language, { hour: "numeric", minute: "2-digit", timeZone: room.zone }).format(at),
    // What is left is rounded down: with its unit, and without where a stalk beside it says what it is.
    left(tightest) { return this.count(tightest.limit.left, leftOf(tightest), tightest.limit.digits); },
    leftNumber(tightest) { return number(leftOf(tightest), tightest.limit.digits); },
    leftShort(forms, tightest) { return this.count(forms, leftOf(tightest), tightest.limit.digits); },
  };
}
