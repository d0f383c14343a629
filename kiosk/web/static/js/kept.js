// What the server will never take is listed, for a manager to type in by hand and tick off.
// The code is both ends of the entry's key: of a round they begin alike, for one guest they end alike.
const codeOf = (key) => `${key.slice(0, 6)}-${key.slice(-6)}`;

// What the form for it is filled in with, where this device may still open it.
function filledIn(list, entry, made, amount) {
  const { kind, product, by } = entry.row;
  const fields = { code: codeOf(entry.key), guest: entry.number, kind, product, volume: amount, server: by,
    at: made.toISOString() };
  const known = Object.entries(fields).filter(([, value]) => value !== undefined && value !== "");
  return `${list.dataset.typeIn}?${new URLSearchParams(known)}`;
}

export function listKept(entries, forget) {
  const list = document.querySelector("[data-stays]");
  list.hidden = false;  // before anything is waited for: a page that lists something is not loaded anew
  list.querySelector("p").textContent = entries[0].stays;
  list.querySelector("ul").replaceChildren(...entries.map((entry) => {
    const { key, row, number } = entry, made = new Date(entry.made);
    const line = document.createElement("li"), button = document.createElement("button");
    const amount = row.volume_ul ? String(Number((row.volume_ul / list.dataset.unitUl).toFixed(2))) : "";
    const guest = number && `${list.dataset.guestWord} ${number}`;
    const parts = [made.toLocaleString(), guest, row.seat, row.product, amount && `${amount} ${list.dataset.unit}`, row.kind];
    const code = Object.assign(document.createElement("code"), { textContent: codeOf(key) });
    const link = Object.assign(document.createElement("a"), { textContent: list.dataset.typeInLabel });
    link.href = filledIn(list, entry, made, amount);
    button.className = "button";
    button.textContent = list.dataset.stays;
    button.addEventListener("click", () => { forget(key); line.remove(); });
    line.append(`${parts.filter(Boolean).join(" · ")} `, code, " ", link, " ", button);
    return line;
  }));
}
