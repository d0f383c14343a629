// What is told on pressing closes again by itself: after a while without a touch, or by a
// press elsewhere, for the whole table can read it.
const OPEN_MS = 8000;
const timers = new WeakMap();

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
