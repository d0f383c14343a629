// Closing a shift: one pad types into the field in hand, and the server says what follows from it.
// Without this script the fields are typed by a keyboard and go with the signature; "Recalculate" shows the balance.
const form = document.querySelector("[data-closing]");
const hand = form.querySelector("[data-hand]");
const go = hand.querySelector("[data-go]");
const pin = form.elements.pin;
const part = (name) => hand.querySelector(`[data-hand-${name}]`);
const weights = [...form.querySelectorAll("[data-weigh]")];
const counts = [...form.querySelectorAll("[data-count]")];
const order = [...weights, ...counts, pin]; // first everything at the scale, then the shelf
const nameOf = (field) => (field === pin ? hand.dataset.last : field.dataset.weigh ?? field.dataset.count);
const wide = window.matchMedia("(min-width: 46rem)"); // on a phone the device's own keys are better
const draft = `closing ${form.elements.room.value} ${form.elements.day.value}`;
let inHand = order[0];
let shown = "";

// The next field that is still empty, from the one in hand round to it; then the PIN.
function following() {
  const at = order.indexOf(inHand);
  return [...order.slice(at + 1), ...order.slice(0, at)].find((one) => one !== pin && !one.value.trim()) ?? pin;
}

function show() {
  part("name").textContent = nameOf(inHand);
  part("about").textContent = inHand.dataset.about ?? "";
  part("unit").textContent = inHand.dataset.unit ?? "";
  const last = inHand === pin, next = following();
  part("typed").textContent = last ? "●".repeat(pin.value.length) : inHand.value;
  part("typed").toggleAttribute("data-pin", last);
  go.firstElementChild.textContent = last ? hand.dataset.sign : hand.dataset.next.replace("%", nameOf(next));
}

function take(field) {
  inHand = field;
  form.querySelector("[data-in-hand]")?.removeAttribute("data-in-hand");
  field.closest(".open-bottle, .sealed, .field").setAttribute("data-in-hand", "");
  const drawn = field.closest(".open-bottle")?.querySelector("svg").cloneNode(true);
  part("drawn").replaceChildren(...(drawn ? [drawn] : []));
  show();
}

function goOn() {
  if (inHand === pin) form.requestSubmit(form.querySelector(".button.strong"));
  else following().focus();
}

function press(key) {
  if (key === "clear") inHand.value = "";
  else if (key === "back") inHand.value = inHand.value.slice(0, -1);
  else if (inHand.value.length < inHand.maxLength) inHand.value += key;
  inHand.dispatchEvent(new Event("input", { bubbles: true }));
}

const typed = () => {
  const fields = new FormData(form);
  fields.delete("pin");
  return fields;
};

function keep() {
  const kept = [...weights, ...counts].filter((one) => one.value).map((one) => [one.name, one.value]);
  sessionStorage.setItem(draft, JSON.stringify(kept));
}

// The page as the server would answer it, with what is typed: its living parts take the place of ours.
async function preview() {
  const fields = typed(), asked = new URLSearchParams(fields).toString();
  if (asked === shown) return;
  shown = asked;
  fields.append("preview", "1");
  const answer = await fetch(form.action, { method: "POST", body: fields });
  if (!answer.ok || asked !== shown) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const one of fresh.querySelectorAll("[data-live]")) document.getElementById(one.id)?.replaceWith(one);
  for (const one of fresh.querySelectorAll(".shelf-tile, .sealed")) {
    const here = document.getElementById(one.id);
    for (const name of ["data-state", "data-missing"]) {
      here?.toggleAttribute(name, one.hasAttribute(name));
      if (one.hasAttribute(name)) here?.setAttribute(name, one.getAttribute(name));
    }
  }
}

form.addEventListener("focusin", (event) => { if (order.includes(event.target)) take(event.target); });
form.addEventListener("focusout", () => { preview(); });
form.addEventListener("input", () => { show(); keep(); });
form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target === pin || event.target.matches("button, a")) return;
  event.preventDefault();
  goOn();
});
hand.addEventListener("pointerdown", (event) => { event.preventDefault(); }); // the field keeps the focus
hand.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]")?.dataset.key;
  if (key !== undefined) press(key);
  else if (event.target.closest("[data-go]")) goOn();
});

// What was typed before the page was left is there again.
for (const [name, value] of JSON.parse(sessionStorage.getItem(draft) ?? "[]")) {
  const field = form.elements[name];
  if (field && !field.value) field.value = value;
}
form.addEventListener("submit", () => { sessionStorage.removeItem(draft); });
form.querySelector("[data-preview]").hidden = true;
hand.hidden = false;
if (wide.matches) for (const field of order) field.inputMode = "none";
take(order.find((one) => one !== pin && !one.value) ?? pin);
if (wide.matches && inHand !== pin) inHand.focus({ preventScroll: true });
preview();
