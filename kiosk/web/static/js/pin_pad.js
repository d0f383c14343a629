// Large keys beside the PIN field, for thumbs and wet hands. Without this
// script the field and the device's own keyboard do the same.
const form = document.querySelector("[data-pin-pad]");
const field = form?.querySelector("input[name=pin]");
const keys = form?.querySelector("[data-keys]");

function press(key) {
  if (key === "clear") field.value = "";
  else if (key === "back") field.value = field.value.slice(0, -1);
  else if (field.value.length < field.maxLength) field.value += key;
}

if (keys) {
  keys.hidden = false;
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (key !== undefined) press(key);
  });
  // A double tap must not send the form twice: the second would meet the wait after a try.
  form.addEventListener("submit", () => {
    const send = form.querySelector("button:not([type])");
    setTimeout(() => { send.disabled = true; });
  });
}
