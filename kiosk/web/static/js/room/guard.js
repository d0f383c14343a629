// A control that changed was aimed at for what it was before: for a moment it takes no press.
const FRESH_MS = 1500;
const seen = new WeakMap();

// Notes what each control says now; one that says something else than before is fresh for a moment.
export function guard(page) {
  for (const control of page.querySelectorAll(".seat-pour, .room-bar [data-control]")) {
    const says = control.textContent, before = seen.get(control);
    if (!before) seen.set(control, { says, at: -FRESH_MS });
    else if (before.says !== says) {
      seen.set(control, { says, at: performance.now() });
      control.setAttribute("data-fresh", "");
      setTimeout(() => control.toggleAttribute("data-fresh", isGuarded(control)), FRESH_MS);
    }
  }
}

export function isGuarded(control) {
  return performance.now() - (seen.get(control)?.at ?? -FRESH_MS) < FRESH_MS;
}
