"""Held entries, once their time is over: only what counts and names nobody is kept."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from kiosk.entries.entries import KEY, happened_at
from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import MARK_KINDS
from kiosk.entries.intake import HELD_ENTRY_KINDS
from kiosk.site.settings import Site
from kiosk.store.engine import Store, run
from kiosk.store.retention import BATCH, Rest
from kiosk.store.tables.production import held
from kiosk.tasting.room.corrections import CORRECTION_KINDS

_KINDS = MARK_KINDS | CORRECTION_KINDS


def forget_held(store: Store, site: Site, before: datetime, rest: Rest) -> int:
    """Reduce the entries that were held before `before` to what counts; return how many changed."""
    h, codes = held.c, {*site.products, *site.recipes}
    old = select(h.id, h.payload).where(h.kind.in_(HELD_ENTRY_KINDS), h.at < before).order_by(h.id)
    with store.read() as session:
        found = [(row.id, row.payload, kept(row.payload, codes)) for row in session.execute(old)]
    reduced = [{"row": row_id, "left": left} for row_id, sent, left in found if left != sent]
    for first in range(0, len(reduced), BATCH):
        run(store, partial(_write, reduced=reduced[first : first + BATCH]))
        rest()
    return len(reduced)


def kept(payload: Mapping[str, object], products: Collection[str]) -> dict[str, object]:
    """Return the parts of a sent row that are keys, numbers, times, and codes that the house gave."""
    fits: Mapping[str, Callable[[object], bool]] = {
        **dict.fromkeys(("key", "pour"), _is_key),
        **dict.fromkeys(("guest", "tour", "by", "volume_ul"), _is_whole),
        "pours": lambda value: isinstance(value, list) and all(map(_is_key, value)),
        **dict.fromkeys(("neat", "asked"), lambda value: isinstance(value, bool)),
        "ledger": lambda value: isinstance(value, str) and value in HELD_ENTRY_KINDS,
        "kind": lambda value: isinstance(value, str) and value in _KINDS,
        "product": lambda value: isinstance(value, str) and value in products,
        "at": _is_time,
    }
    return {name: value for name, value in payload.items() if name in fits and fits[name](value)}


def _write(session: Session, reduced: list[dict[str, Any]]) -> None:
    one = update(held).where(held.c.id == bindparam("row")).values(payload=bindparam("left"))
    session.connection().execute(one, reduced)


def _is_key(value: object) -> bool:
    return isinstance(value, str) and KEY.fullmatch(value) is not None


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**31


def _is_time(value: object) -> bool:
    try:
        return happened_at({"at": value}) is not None
    except Malformed:
        return False
