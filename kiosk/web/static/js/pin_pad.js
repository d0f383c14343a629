// Large keys beside the PIN field, for thumbs and wet hands; a keyboard types into the same field.
// Every PIN has the same length, so the last digit after a chosen name signs in by itself.
// Without this script the field, the device's own keyboard and the button do the same.
const form = document.querySelector("[data-pin-pad]");
const field = form?.querySelector("input[name=pin]");
const keys = form?.querySelector("[data-keys]");
const send = form?.querySelector("button:not([type])");

function press(key) {
  if (key === "clear") field.value = "";
  else if (key === "back") field.value = field.value.slice(0, -1);
  else if (field.value.length < field.maxLength) field.value += key;
  signInWhenWhole();
}

// A name that is still missing is asked for by the button: the digits stay.
function signInWhenWhole() {
  const named = form.querySelector("input[name=person]:checked");
  if (named && field.value.length === field.maxLength && field.checkValidity()) form.requestSubmit();
}

if (keys) {
  keys.hidden = false;
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (key !== undefined) press(key);
  });
  field.addEventListener("input", signInWhenWhole);
  // After a name was tapped, the digits of a keyboard go into the field.
  form.addEventListener("keydown", (event) => {
    const plain = !event.ctrlKey && !event.altKey && !event.metaKey;
    if (plain && event.target.name === "person" && /^[0-9]$/.test(event.key)) press(event.key);
  });
  // It must not be sent twice: the second would meet the wait after a try.
  form.addEventListener("submit", (event) => {
    if (send.disabled) event.preventDefault();
    setTimeout(() => { send.disabled = true; });
  });
  // Back on the page by the browser's own history.
  window.addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    field.value = "";
    send.disabled = false;
  });
}
