"""The kinds of entries of the tasting room, and what is kept of held ones in the end."""

from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    KEY,
    RawEntry,
    read_flag,
    read_instant,
    read_key,
    read_whole,
)
from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import MARK_KINDS
from kiosk.entries.review import HELD_ENTRY_KINDS
from kiosk.site.settings import Site
from kiosk.store.engine import Store, run
from kiosk.store.retention import BATCH, Rest
from kiosk.store.tables.production import held
from kiosk.tasting.room.corrections import CORRECTION_KINDS, CORRECTIONS, ROUND_CORRECTIONS
from kiosk.tasting.room.pouring import POURS
from kiosk.tasting.room.preset_glasses import PRESETS, SEATINGS

ROOM_ENTRIES = (PRESETS, POURS, SEATINGS, ROUND_CORRECTIONS, CORRECTIONS)


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
    **dict.fromkeys(("key", "pour", "round"), read_key),
    **dict.fromkeys(("guest", "tour", "by", "volume_ul"), read_whole),
    **dict.fromkeys(("neat", "asked"), read_flag),
    "at": read_instant,
}


def _write(session: Session, reduced: list[dict[str, Any]]) -> None:
    one = update(held).where(held.c.id == bindparam("row")).values(payload=bindparam("left"))
    session.connection().execute(one, reduced)
