// What a pressed form of the room sends: one entry, or one for each guest of a round.
import { keyWithin, newKey } from "./entries.js";

const room = document.querySelector("[data-room]");

function glassOf(code) {
  const [product, volume] = code.split(" ");
  return { product, volume_ul: Number(volume) };
}

// Who acts here, with the proof of their sign-in: the entry may be sent when they have signed out.
const own = () => ({ by: Number(room.dataset.by), sign_in: room.dataset.signIn });

function rowOf(form, button) {
  const row = { ledger: form.dataset.ledger, ...own() };
  for (const [name, value] of new FormData(form, button)) {
    if (name === "glass") Object.assign(row, glassOf(value));
    else if (name !== "form_token") row[name] = name === "guest" ? Number(value) : value;
  }
  return { ...row, key: newKey() };
}

// A guest's number, which the list of what was not recorded names on the page of any tour.
const numberOf = (guest) => room.querySelector(`[data-guest="${guest}"]`)?.dataset.number;

export function entriesOf(form, button) {
  if (!("round" in form.dataset)) {
    const row = rowOf(form, button);
    const guest = form.closest("[data-guest]").dataset.guest;
    return [{ key: row.key, guest, number: numberOf(guest), row }];
  }
  const fields = new FormData(form);
  const shared = { ledger: "pours", ...own(), ...glassOf(fields.get("glass")) };
  const round = newKey();
  return fields.getAll("guest").map((guest) => {
    const key = keyWithin(round, guest);
    return { key, guest, number: numberOf(guest), round, row: { ...shared, key, guest: Number(guest) } };
  });
}
