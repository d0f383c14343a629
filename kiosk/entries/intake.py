"""The one door for what tablets send: a list of rows in, an answer for each; nothing is ever thrown away.

Each row is a transaction of its own, in which the sender is found too: a transaction
for that alone would cost as much as the entry, and could be outdated by the time that
the entry is recorded. A row from a revoked device, or one that speaks of something
unknown, is held for a person to settle.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    Answer,
    CorrectionEntry,
    Entry,
    MarkEntry,
    PourEntry,
    PresetEntry,
    PresetGlassesEntry,
    claimed_by,
    happened_at,
    parse_entry,
    with_present_names,
)
from kiosk.site.settings import Site
from kiosk.staff.sessions import cookie_parameters, select_by_cookies, signed_in
from kiosk.store import rows as store_rows
from kiosk.store.engine import Store, run
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices, staff
from kiosk.tasting.errors import Malformed, ShutOut, Stranger, TastingError, UnknownPour, UnknownProduct
from kiosk.tasting.room.guest_marks import correct, mark
from kiosk.tasting.room.pouring import pour
from kiosk.tasting.room.preset_glasses import record_preset_glass, seat_or_clear

SENDING_DEVICE = "tablet"
"""The only kind of device that sends entries: at a screen in a hall nobody stands behind what is sent."""


@dataclass(frozen=True, slots=True)
class Sender:
    """The device that sends and who is signed in on it now, with the languages they speak."""

    device_id: int
    revoked: bool = False
    person_id: int | None = None
    languages: tuple[str, ...] = ()


FindSender = Callable[[Session], Sender]
"""Finds the sender in the transaction that records; raises Stranger."""


class SenderCredentials:
    """The sender whom a request shows by the keyed hashes of its two cookies."""

    def __init__(self, site: Site, device_hash: str, person_hash: str, now: datetime) -> None:
        self._site, self._now = site, now
        self._asked = cookie_parameters(device_hash, person_hash, now)
        self.languages: tuple[str, ...] = ()

    def __call__(self, session: Session) -> Sender:
        """Return the sender, of a revoked device too. Raises Stranger, for a mere screen too."""
        row = session.connection().execute(_WHO, self._asked).one_or_none()
        if row is None:
            raise Stranger()
        sender = Sender(row.device_id, row.revoked_at is not None, *self._person(row))
        self.languages = sender.languages
        return sender

    def _person(self, row: Row[Any]) -> tuple[int | None, tuple[str, ...]]:
        left = row.left_on is not None and row.left_on <= self._site.local(self._now).date()
        if row.staff_id is None or row.revoked_at is not None or left:
            return None, ()
        return row.staff_id, tuple(row.languages)


_WHO = select_by_cookies(devices.c.revoked_at).where(devices.c.kind == SENDING_DEVICE)


RawEntry = Mapping[str, object]

HELD_ENTRY_KINDS = ("pours", "marks", "pour_marks", "steps", "")
"""The kinds under which rows are held: the ledgers that entries speak of, "" for whatever else was sent."""


def take_in_entries(
    store: Store, site: Site, known: FindSender, sent: Sequence[RawEntry], now: datetime
) -> list[Answer]:
    """Take rows in the order they were made and return an answer for each. Raises Stranger."""
    if not sent:
        with store.read() as session:
            known(session)
    return [_take_one(store, site, known, with_present_names(row), now) for row in sent]


def _take_one(store: Store, site: Site, known: FindSender, row: RawEntry, now: datetime) -> Answer:
    key = str(row.get("key", ""))[:32]
    try:
        return run(store, partial(_record, site=site, known=known, row=row, now=now))
    except ShutOut:
        return _hold(store, row, key, "revoked_device", now)
    except NoSuchRow:
        return _hold(store, row, key, "unknown_guest", now)
    except UnknownPour:
        return _hold(store, row, key, "unknown_pour", now)
    except UnknownProduct:
        return _hold(store, row, key, "unknown_product", now)
    except Malformed:
        return _hold(store, row, key, "malformed", now)
    except KeyConflict as conflict:
        return _rejected(key, "key_conflict", conflict)
    except TastingError as refused:
        return _rejected(key, "refused_entry", refused)


def _record(session: Session, *, site: Site, known: FindSender, row: RawEntry, now: datetime) -> Answer:
    sender = known(session)
    if sender.revoked:
        raise ShutOut()
    by = claimed_by(row)
    by = sender.person_id if by is None else by
    here = by is not None and by == sender.person_id
    checked = here or (
        by is not None and signed_in(session, by, sender.device_id, min(now, happened_at(row) or now))
    )
    if by is not None and not checked and not _works_here(session, by):
        raise Malformed(part="by")
    entry = parse_entry(row, device_id=sender.device_id, by=by, checked=checked, here=here)
    return record_entry(session, site, entry, now)


def record_entry(session: Session, site: Site, entry: Entry, now: datetime) -> Answer:
    """Record one entry of any kind in a write transaction."""
    match entry:
        case PourEntry():
            return pour(session, site, entry, now)
        case PresetEntry():
            return record_preset_glass(session, site, entry, now)
        case PresetGlassesEntry():
            return seat_or_clear(session, site, entry, now)
        case MarkEntry():
            return mark(session, entry, now)
        case CorrectionEntry():
            return correct(session, site, entry, now)


def _rejected(key: str, code: str, error: KeyConflict | TastingError) -> Answer:
    return Answer(key, "rejected", error.status, error=code, message=error.message, facts=error.facts)


def _hold(store: Store, row: RawEntry, key: str, reason: str, now: datetime) -> Answer:
    """Keep a row for a person to settle, once however often it is sent."""
    sent = row.get("ledger")
    kind = sent if isinstance(sent, str) and sent in HELD_ENTRY_KINDS else ""
    payload = json.loads(json.dumps(dict(row)), parse_constant=str)  # no database keeps NaN in JSON

    def keep(session: Session) -> None:
        waiting = select(held.c.payload).where(held.c.kind == kind, held.c.settled_at.is_(None))
        same = json.dumps(payload, sort_keys=True)
        if all(json.dumps(other, sort_keys=True) != same for other in session.scalars(waiting)):
            values = {"kind": kind, "payload": payload, "reasons": [reason], "at": now}
            store_rows.insert(session, held, values)

    run(store, keep)
    return Answer(key, "held", 202, reasons=(reason,), at=now)


def _works_here(session: Session, staff_id: int) -> bool:
    return session.execute(select(staff.c.id).where(staff.c.id == staff_id)).first() is not None
