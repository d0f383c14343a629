// The clock in the bar: the server's time when the page came, carried on by this device's clock.
// Without this script the bar states the time of the page.
const clock = document.querySelector("[data-clock]");
const came = Date.now();
const halves = clock.dataset.halves.split("|");

function tick() {
  const seconds = (Number(clock.dataset.clock) + (Date.now() - came) / 1000) % 86400;
  const [hour, minute] = [Math.floor(seconds / 3600), String(Math.floor(seconds / 60) % 60).padStart(2, "0")];
  const shown = `${halves[0] ? hour % 12 || 12 : hour}:${minute}`;
  if (clock.firstElementChild.textContent === shown) return;
  clock.dateTime = `${String(hour).padStart(2, "0")}:${minute}`;
  clock.firstElementChild.textContent = shown;
  if (halves[0]) clock.lastElementChild.textContent = halves[hour < 12 ? 0 : 1];
}

setInterval(tick, 1000);
