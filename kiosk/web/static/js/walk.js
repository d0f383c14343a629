// The walk on a phone: the two buttons beside the head count, and no second press on what has just appeared
// under the thumb. Without this script the number is typed.
const QUIET_MS = 1000;
const shownAt = performance.now();
document.documentElement.classList.add("scripted");

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  const count = button?.closest("form").elements.count;
  if (count) count.value = Math.max(0, (parseInt(count.value, 10) || 0) + Number(button.dataset.step));
});

document.addEventListener("submit", (event) => {
  if (event.target.matches("[data-walk]") && performance.now() - shownAt < QUIET_MS) event.preventDefault();
});
