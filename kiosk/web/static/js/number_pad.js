// Large keys for the numbers of a form, for thumbs and wet hands, on screens that are touched.
// Without this script, or with a mouse, the fields and the device's own keyboard do the same.
const form = document.querySelector("[data-number-pad]");
const keys = form?.querySelector("[data-keys]");
const fields = [...(form?.querySelectorAll("input[inputmode=decimal]") ?? [])];
let inHand = fields.find((field) => !field.value) ?? fields[0];

function take(field) {
  inHand = field;
  for (const one of fields) one.classList.toggle("in-hand", one === field);
}

function press(key) {
  inHand.value = key === "back" ? inHand.value.slice(0, -1) : inHand.value + key;
  inHand.dispatchEvent(new Event("input", { bubbles: true }));
}

if (keys && inHand && matchMedia("(pointer: coarse)").matches) {
  keys.hidden = false;
  for (const field of fields) {
    field.inputMode = "none"; // the device's own keyboard would cover the keys
    field.addEventListener("focus", () => take(field));
  }
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (key !== undefined) press(key);
  });
  take(inHand);
}
