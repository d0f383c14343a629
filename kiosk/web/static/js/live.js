// Parts of a page that keep themselves current: each is asked for anew every few seconds under its ETag
// and replaced when it has changed, unless someone types in it. Without this script the page reloads itself.
const EVERY_MS = 2500; // or as many seconds as the part says
const away = document.querySelector("[data-away]");
let heardAt = performance.now();

function tellAway(isAway) {
  if (!away) return;
  const minutes = Math.ceil((performance.now() - heardAt) / 60000);
  if (isAway) away.textContent = away.dataset.away.replace("{n}", new Intl.NumberFormat(document.documentElement.lang).format(minutes));
  away.hidden = !isAway;
}

async function renew(part) {
  if (performance.now() < (Number(part.dataset.next) || 0)) return;
  const headers = part.dataset.etag ? { "If-None-Match": part.dataset.etag } : {};
  const answer = await fetch(part.dataset.live, { headers, cache: "no-store", signal: AbortSignal.timeout(10000) });
  if (answer.redirected || answer.status === 205) return location.reload(); // signed out, or the group went on
  part.dataset.next = performance.now() + 1000 * (part.dataset.every ?? 0);
  if (answer.status === 304) return;
  if (!answer.ok) throw new Error(`answered ${answer.status}`);
  const body = await answer.text();
  const typing = part.contains(document.activeElement) && document.activeElement.matches("input, select");
  if (typing) return;
  part.innerHTML = body;
  part.dataset.etag = answer.headers.get("ETag") ?? "";
}

async function hear() {
  try {
    for (const part of document.querySelectorAll("[data-live]")) await renew(part);
    heardAt = performance.now();
    tellAway(false);
  } catch {
    tellAway(true);
  }
  setTimeout(hear, EVERY_MS);
}

setTimeout(hear, EVERY_MS);
