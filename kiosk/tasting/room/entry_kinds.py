"""How entries of the tasting room are read and recorded, and what is kept of held ones in the end.

The entries are pours, pre-poured glasses and corrections.
"""

from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    CODE,
    KEY,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    happened_at,
    read_code,
    read_flag,
    read_key,
    read_whole,
)
from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import MARK_KINDS
from kiosk.entries.intake import HELD_ENTRY_KINDS
from kiosk.site.settings import Site
from kiosk.store.engine import Store, run
from kiosk.store.retention import BATCH, Rest
from kiosk.store.tables.production import held
from kiosk.tasting.room.corrections import CORRECTION_KINDS, CorrectionEntry, record_correction
from kiosk.tasting.room.pouring import PourEntry, PresetEntry, pour
from kiosk.tasting.room.preset_glasses import PresetGlassesEntry, record_preset_glass, seat_or_clear

MOST_UL = 2_000_000  # two litres: more than any glass, less than any overflow
MOST_GLASSES = 500  # that one entry clears: a full table of a long flight


def _parse_pour(row: RawEntry, origin: EntryOrigin) -> PourEntry | PresetEntry:
    glass = (read_code(row, "product", 40), read_whole(row, "volume_ul", MOST_UL))
    flags = (read_flag(row, "neat"), read_flag(row, "asked"))
    if row.get("seat") is None:
        return PourEntry(origin, read_whole(row, "guest"), *glass, *flags)
    seat = read_code(row, "seat", 20)
    if not CODE.fullmatch(seat):
        raise Malformed(part="seat")
    return PresetEntry(origin, read_whole(row, "tour"), seat, *glass, *flags)


def _record_pour(session: Session, site: Site, entry: PourEntry | PresetEntry, now: datetime) -> Answer:
    if isinstance(entry, PresetEntry):
        return record_preset_glass(session, site, entry, now)
    return pour(session, site, entry, now)


def _parse_correction(row: RawEntry, origin: EntryOrigin) -> CorrectionEntry | PresetGlassesEntry:
    kind = read_code(row, "kind", 12)
    guest = read_whole(row, "guest") if row.get("guest") is not None else None
    if "pours" in row:
        return PresetGlassesEntry(origin, kind, _keys(row, "pours"), guest, read_flag(row, "asked"))
    return CorrectionEntry(origin, read_key(row, "pour"), kind, guest)


def _record_correction(
    session: Session, site: Site, entry: CorrectionEntry | PresetGlassesEntry, now: datetime
) -> Answer:
    if isinstance(entry, PresetGlassesEntry):
        return seat_or_clear(session, site, entry, now)
    return record_correction(session, site, entry, now)


def _keys(row: RawEntry, name: str) -> tuple[str, ...]:
    value = row.get(name)
    sent = value if isinstance(value, list) else []
    keys = [key for key in sent if isinstance(key, str) and KEY.fullmatch(key)]
    if not 0 < len(sent) <= MOST_GLASSES or len(set(keys)) != len(sent):
        raise Malformed(part=name)
    return tuple(keys)


ROOM_ENTRIES = (
    EntryKind("pours", _parse_pour, _record_pour),
    EntryKind("pour_marks", _parse_correction, _record_correction),
)


def forget_held(store: Store, site: Site, before: datetime, rest: Rest) -> int:
    """Remove personal details from the entries held before an instant; return how many changed."""
    h, codes = held.c, {*site.products, *site.recipes}
    old = select(h.id, h.payload).where(h.kind.in_(HELD_ENTRY_KINDS), h.at < before).order_by(h.id)
    with store.read() as session:
        rows = [(row.id, row.payload, kept(row.payload, codes)) for row in session.execute(old)]
    reduced = [{"row": row_id, "left": left} for row_id, payload, left in rows if left != payload]
    for first in range(0, len(reduced), BATCH):
        run(store, partial(_write, reduced=reduced[first : first + BATCH]))
        rest()
    return len(reduced)


def kept(payload: Mapping[str, object], products: Collection[str]) -> dict[str, object]:
    """Return the parts of a held entry that name no person: keys, numbers, times and the site's own codes."""
    codes = {"ledger": HELD_ENTRY_KINDS, "kind": MARK_KINDS | CORRECTION_KINDS, "product": products}

    def fits(name: str, value: object) -> bool:
        if name == "pours":
            return isinstance(value, list) and all(
                isinstance(key, str) and KEY.fullmatch(key) for key in value
            )
        if name in codes:
            return isinstance(value, str) and value in codes[name]
        try:
            return value is not None and name in _READERS and _READERS[name](payload, name) is not None
        except Malformed:
            return False

    return {name: value for name, value in payload.items() if fits(name, value)}


_READERS: Mapping[str, Callable[[RawEntry, str], object]] = {
    **dict.fromkeys(("key", "pour"), read_key),
    **dict.fromkeys(("guest", "tour", "by", "volume_ul"), read_whole),
    **dict.fromkeys(("neat", "asked"), read_flag),
    "at": lambda row, _name: happened_at(row),
}


def _write(session: Session, reduced: list[dict[str, Any]]) -> None:
    one = update(held).where(held.c.id == bindparam("row")).values(payload=bindparam("left"))
    session.connection().execute(one, reduced)
