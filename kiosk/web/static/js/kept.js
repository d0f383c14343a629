// What the server will never take is listed, for a manager to enter by hand and tick off.
export function listKept(room, entries, forget) {
  const list = document.querySelector("[data-stays]");
  list.hidden = false;
  list.querySelector("p").textContent = entries[0].stays;
  list.querySelector("ul").replaceChildren(...entries.map(({ key, row, made }) => {
    const line = document.createElement("li"), button = document.createElement("button");
    const number = room.querySelector(`[data-guest="${row.guest}"] .guest-number`)?.textContent.trim();
    const parts = [new Date(made).toLocaleString(), number ?? row.guest ?? row.seat, row.product, row.kind];
    line.textContent = `${parts.filter(Boolean).join(" · ")}${row.volume_ul ? ` · ${row.volume_ul / 1000} mL` : ""} `;
    button.className = "button";
    button.textContent = list.dataset.stays;
    button.addEventListener("click", () => { forget(key); line.remove(); });
    line.append(button);
    return line;
  }));
}
