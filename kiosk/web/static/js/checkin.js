// Check-in: a press is sent and its answer put into the page, so that nothing moves and nothing is loaded anew.
// Without this script the same forms and links work by themselves.
const FRESH_MS = 1500;
const PARTS = ["refused", "together", "checkin-bar", "sheet"];
const grid = document.querySelector("[data-checkin]");
const fresh = new WeakMap();
let busy = false;

// A control that changed was pressed for what it was before: for a moment it takes no press.
function renew(part) {
  fresh.set(part, performance.now());
  part.setAttribute("data-fresh", "");
  setTimeout(() => part.removeAttribute("data-fresh"), FRESH_MS);
}

function isFresh(element) {
  for (let part = element; part; part = part.parentElement) {
    if (performance.now() - (fresh.get(part) ?? -FRESH_MS) < FRESH_MS) return true;
  }
  return false;
}

// The key of an entry and the token of a form differ on each page: they are no change that anyone sees.
const seen = (part) => part.outerHTML.replace(/ data-(fresh|sent)=""/g, "").replace(/name="(key|form_token)" value="[^"]*"/g, "");

function put(old, next) {
  if (!old || !next || seen(old) === seen(next)) return;
  old.replaceWith(next);
  renew(next);
}

function show(page) {
  const next = new DOMParser().parseFromString(page, "text/html");
  const heads = next.querySelectorAll("[data-checkin] > li");
  if (heads.length !== grid.children.length) grid.replaceChildren(...heads);
  else Array.from(heads).forEach((head, n) => put(grid.children[n], head));
  for (const id of PARTS) {
    const [old, part] = [document.getElementById(id), next.getElementById(id)];
    if (old && !part) old.replaceChildren();
    else put(old, part);
  }
}

function refuse() {
  const sheet = document.getElementById("sheet");
  const line = sheet.querySelector(".field-error") ?? document.getElementById("refused");
  line.textContent = grid.dataset.unsent;
}

async function send(address, options, pressed) {
  if (busy) return;
  busy = true;
  pressed?.setAttribute("data-sent", "");
  try {
    const answer = await fetch(address, { ...options, headers: { Accept: "text/html" } });
    const page = await answer.text();
    if (new URL(answer.url).pathname.endsWith("/sign-in") || !page.includes("data-checkin")) {
      location.assign(answer.redirected ? answer.url : location.href);
      return;
    }
    show(page);
    if (answer.ok) history.replaceState(null, "", answer.url);
  } catch {
    refuse();
  } finally {
    busy = false;
    pressed?.removeAttribute("data-sent");
  }
}

// The head that is in hand is in sight above its sheet.
const headOf = (form) => document.getElementById(`head-${new FormData(form).get("head")}`);

if (grid) {
  const group = location.pathname;
  document.addEventListener("click", (event) => {
    if (isFresh(event.target)) {
      event.preventDefault();
      event.stopPropagation();
    }
  }, true);
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (event.defaultPrevented || !link || event.ctrlKey || event.metaKey) return;
    const there = new URL(link.href);
    if (there.pathname !== group || there.hash) return;
    event.preventDefault();
    send(link.href, {}, link.closest(".head"));
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.action.startsWith(location.origin + group) || !form.elements.key && !form.elements.head) return;
    if (form.action.endsWith("/steps")) return;
    event.preventDefault();
    send(form.action, { method: "POST", body: new URLSearchParams(new FormData(form, event.submitter)) }, headOf(form));
  });
}
