// What is told on pressing closes again by itself: after a while without a touch, or by a
// press elsewhere, for the whole table can read it. And "12 minutes ago" goes on by itself.
const OPEN_MS = 8000;
const TICK_MS = 20000;
const timers = new WeakMap();
const born = new WeakMap();
const ago = new Intl.RelativeTimeFormat(document.documentElement.lang, { numeric: "always" });

function stay(fold) {
  clearTimeout(timers.get(fold));
  timers.set(fold, setTimeout(() => { fold.open = false; }, OPEN_MS));
}

document.addEventListener("toggle", (event) => {
  if (event.target.matches?.("[data-fold]") && event.target.open) stay(event.target);
}, true);

for (const kind of ["pointerdown", "keydown", "change"]) {
  document.addEventListener(kind, (event) => {
    const inside = event.target.closest?.("[data-fold]");
    for (const fold of document.querySelectorAll("[data-fold][open]")) {
      if (fold === inside) stay(fold);
      else if (kind === "pointerdown") fold.open = false;
    }
  });
}

// Counted from when the text came, so that a tablet whose clock is wrong tells it right.
function tick() {
  for (const text of document.querySelectorAll("[data-ago]")) {
    if (!born.has(text)) born.set(text, performance.now());
    const minutes = Math.floor((Number(text.dataset.ago) + (performance.now() - born.get(text)) / 1000) / 60);
    const [n, unit] = minutes < 60 ? [minutes, "minute"] : [Math.floor(minutes / 60), "hour"];
    const told = minutes < 1 ? text.textContent : ago.format(-n, unit);
    if (text.textContent !== told) text.textContent = told; // else the observer would call itself
  }
}

tick();
new MutationObserver(tick).observe(document.body, { childList: true, subtree: true });
setInterval(tick, TICK_MS);
