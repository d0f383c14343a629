// The wall turns through its screens and asks every few seconds what has changed.
// While the server is away the last values stay and are marked with their age.
// Without this script the page itself goes on to the next screen.
const { wall, turn, ask, zone } = document.body.dataset;
const main = document.querySelector("main");
const scene = document.querySelector(".wall-scene svg");
const stops = [...scene.querySelectorAll(".lit, .dimmed, .away")].reverse(); // the last one is drawn first
const away = document.querySelector(".wall-away");
const clock = document.querySelector(".wall-clock");
let ahead = 0; // milliseconds by which the server's clock is before this screen's
let etag = "";
let heardAt = performance.now();
const all = [...main.querySelectorAll(".screen")];
const known = all.map((screen) => screen.id).join();

function standing() {
  return all.findIndex((screen) => screen.classList.contains("shown"));
}

// The walk and the head of the cask are drawn once, behind all screens: they take the place and the
// state of the one that is shown.
function set({ dataset }) {
  const at = Number(dataset.at);
  stops.forEach((stop, i) => {
    const state = at < 0 || i < at || i > at + 1 ? "away" : i === at ? "lit" : "dimmed";
    stop.setAttribute("class", state);
  });
  scene.setAttribute("viewBox", dataset.view);
  main.dataset.state = dataset.state;
}

function next() {
  const shown = standing();
  const following = all[(shown + 1) % all.length];
  all[shown]?.classList.remove("shown");
  following.classList.add("shown");
  set(following);
}

function fill(screen) {
  const section = document.getElementById(screen.key);
  section.dataset.state = screen.state;
  const texts = new Map([["value", screen.value], ["unit", screen.unit]]);
  for (const line of screen.lines) {
    texts.set(`${line.language}-text`, line.text);
    texts.set(`${line.language}-note`, line.note);
  }
  for (const part of section.querySelectorAll("[data-part]")) {
    const text = texts.get(part.dataset.part) ?? "";
    if (part.textContent !== text) part.textContent = text;
    if (part.dataset.long) part.dataset.long = text.length;
  }
}

function mark() {
  const minutes = Math.ceil((performance.now() - heardAt) / 60000);
  for (const said of away.querySelectorAll("[data-away]")) {
    said.textContent = said.dataset.away.replace("{n}", new Intl.NumberFormat(said.lang).format(minutes));
  }
  away.hidden = false;
}

function show(screens) {
  // A figure that begins or ceases to say something changes the turn: the page is laid out anew,
  // and goes on from where it was.
  const at = Math.max(standing(), 0);
  if (screens.map((screen) => screen.key).join() !== known) return location.replace(`${location.pathname}?screen=${at}`);
  screens.forEach(fill);
  set(all[at]);
}

function tellTime() {
  const format = new Intl.DateTimeFormat(clock.lang, { timeStyle: "short", timeZone: zone });
  clock.textContent = format.format(Date.now() + ahead);
}

async function hear() {
  try {
    const headers = etag ? { "If-None-Match": etag } : {};
    const answer = await fetch(wall, { headers, cache: "no-store", signal: AbortSignal.timeout(ask * 1000) });
    if (answer.status !== 304) {
      if (!answer.ok) throw new Error(`answered ${answer.status}`);
      show((await answer.json()).screens);
      etag = answer.headers.get("ETag") ?? "";
    }
    ahead = Date.parse(answer.headers.get("Date")) - Date.now() || 0;
    heardAt = performance.now();
    away.hidden = true;
  } catch {
    mark();
  }
  tellTime();
  setTimeout(hear, (ask - 1) * 1000);
}

setInterval(next, turn * 1000);
hear();
