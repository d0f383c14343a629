"""What is held for review: entries that were not recorded, kept until a person settles each.

Every feature that holds something has a `HeldSource`; the one page of all of them lists what waits.
"""

import hashlib
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    Answer,
    EntryKinds,
    EntryOrigin,
    RawEntry,
    claimed_by,
    code_of,
    kind_of,
    read_instant,
    read_key,
)
from kiosk.entries.errors import EntryError, Malformed
from kiosk.entries.typed_in import TypedInAlready, is_typed_in
from kiosk.site.settings import Site
from kiosk.staff.people import is_staff
from kiosk.store import rows
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import devices, staff
from kiosk.words.catalogs import N_

HELD_ENTRY_KINDS = ("pours", "marks", "pour_marks", "steps", "")
"""The kinds under which entries are held: the ledgers that they speak of, "" for whatever else was sent."""
REVOKED_SENDS = timedelta(hours=24)
"""How long after a device was revoked its late entries still come here: it may have been in use."""
MOST_HELD = 500
"""How many entries of one device wait at most: more than a busy day's, about a megabyte."""
LARGEST_BYTES = 2000
"""How large an entry may be that waits here."""

REASONS: Mapping[str, str] = {
    "unknown_guest": N_("It names a guest who is not on record."),
    "unknown_product": N_("It names a product that this site does not have."),
    "unknown_pour": N_("It corrects a pour that is not on record."),
    "malformed": N_("It lacks a part, or a part of it cannot be."),
    "revoked_device": N_("The device that sent it had been revoked."),
    "too_old": N_("It is said to have happened more than a day before it arrived."),
}
"""Why an entry is held."""
KEPT_ON_TABLET: Mapping[str, str] = {
    "too_large": N_("Too large to be held for review. It is kept on this tablet, for a manager to enter."),
    "too_many": N_(
        "Too many entries of this tablet wait for review. This one is kept here, for a manager to enter."
    ),
    "revoked_before": N_(
        "This tablet was revoked more than a day ago. The entry is kept here, for a manager to enter."
    ),
}
"""Why a tablet keeps an entry itself."""
DISCARD_REASONS: Mapping[str, str] = {
    "did_not_happen": N_("It did not happen"),
    "entered_otherwise": N_("It is entered already"),
    "practice": N_("It was a test or practice"),
    "cannot_be_known": N_("Nobody can say any more"),
}
RECORDED, DISCARDED = "recorded", "discarded"


class AsksNow(EntryError):
    """What opens service or gives a pour back is no record of the past: it is made anew, or not at all."""

    status = 409
    message = N_(
        "An entry that allows pouring or takes a pour back is not recorded from here: whoever may do so "
        "makes it in the tasting."
    )


@dataclass(frozen=True, slots=True)
class HeldItem:
    """One thing that waits, as the page shows it.

    `settle` is the address that takes the answer. `recorded` says what follows from recording it, ""
    where it cannot be recorded as it is; `correct` is the address of a form that corrects it first.
    """

    id: int
    revision: int
    title: str
    at: datetime
    device: str
    person: str
    reasons: Sequence[str]
    details: Sequence[tuple[str, str]]
    settle: str
    recorded: str
    correct: str = ""


@dataclass(frozen=True, slots=True)
class HeldSource:
    """What a feature holds under some `kinds`: what it is called, which roles settle it, how it is shown.

    `items` returns at most so many of what waits, oldest first.
    """

    kinds: tuple[str, ...]
    name: str
    roles: tuple[str, ...]
    items: Callable[[Session, int], Sequence[HeldItem]]


def hold_entry(
    session: Session,
    row: RawEntry,
    reason: str,
    now: datetime,
    *,
    device_id: int,
    revoked_at: datetime | None = None,
) -> str:
    """Keep an entry for a person to settle, once however often it is sent.

    Return "", or why the tablet has to keep it: a key of KEPT_ON_TABLET.
    """
    ledger, payload = row.get("ledger"), json.dumps(dict(row), sort_keys=True)
    kind = ledger if isinstance(ledger, str) and ledger in HELD_ENTRY_KINDS else ""
    digest, h = hashlib.sha256(payload.encode()).hexdigest(), held.c
    if session.execute(select(h.id).where(h.digest == digest)).first() is not None:
        return ""
    if len(payload) > LARGEST_BYTES:
        return "too_large"
    if revoked_at is not None and now - revoked_at > REVOKED_SENDS:
        return "revoked_before"
    waiting = select(func.count()).where(h.device_id == device_id, h.settled_at.is_(None))
    if (session.scalar(waiting) or 0) >= MOST_HELD:
        return "too_many"
    values = {"kind": kind, "payload": json.loads(payload, parse_constant=str), "reasons": [reason]}
    rows.insert(session, held, {**values, "at": now, "device_id": device_id, "digest": digest})
    return ""


def count_waiting(session: Session, kinds: Collection[str]) -> int:
    """Return how much waits under some kinds."""
    query = select(func.count()).where(held.c.kind.in_(kinds), held.c.settled_at.is_(None))
    return session.scalar(query) or 0


def settled_lately(session: Session, kinds: Collection[str], most: int) -> Sequence[Any]:
    """Return what was settled under some kinds, the latest first: kind, at, settled_at, outcome, name."""
    h = held.c
    query = select(h.kind, h.at, h.settled_at, h.outcome, staff.c.name).outerjoin_from(
        held, staff, staff.c.id == h.settled_by
    )
    query = query.where(h.kind.in_(kinds), h.settled_at.is_not(None))
    return list(session.execute(query.order_by(h.settled_at.desc()).limit(most)))


def waiting_rows(session: Session, kinds: Sequence[str], most: int | None = None) -> Sequence[Row[Any]]:
    """Return what is held under some kinds and waits, oldest first, with the name of the device."""
    query = select(held, devices.c.name.label("device")).outerjoin_from(held, devices)
    query = query.where(held.c.kind.in_(kinds), held.c.settled_at.is_(None))
    return session.execute(query.order_by(held.c.id).limit(most)).all()


def staff_names(session: Session) -> dict[object, str]:
    """Return the names of all who work here or did, by id."""
    return dict(session.execute(select(staff.c.id, staff.c.name)).all())


def settle(
    session: Session, row: Row[Any], revision: int, outcome: str, why: str, *, by: int, at: datetime
) -> None:
    """Record what became of something held. Raises Stale when another person settled it first."""
    values = {"settled_at": at, "settled_by": by, "outcome": outcome}
    rows.change(session, held, row.id, revision, values, by=by, at=at, why=why)


def held_row(session: Session, held_id: int, kinds: Sequence[str]) -> Row[Any] | None:
    """Return what waits under an id and one of some kinds, or None."""
    query = select(held).where(held.c.id == held_id, held.c.kind.in_(kinds), held.c.settled_at.is_(None))
    return session.execute(query).one_or_none()


def record_held_entry(
    session: Session,
    site: Site,
    kinds: EntryKinds,
    row: Row[Any],
    revision: int,
    *,
    by: int,
    at: datetime,
) -> Answer:
    """Record a held entry as the fact that it tells, in the name that it claims, and settle it.

    It counts from when it happened, or arrived. Raises AsksNow, TypedInAlready, and as `EntryKind.record`
    does; Stale when another person settled it first.
    """
    settle(session, row, revision, RECORDED, RECORDED, by=by, at=at)
    sent = {**row.payload, "asked": False}
    if is_typed_in(session, code_of(str(sent.get("key", "")))):
        raise TypedInAlready()
    claimed = claimed_by(sent)
    if claimed is not None and not is_staff(session, claimed):
        raise Malformed(part="by")
    kind = kind_of(kinds, sent)
    happened = read_instant(sent, "at") or row.at
    entry = kind.parse(sent, EntryOrigin(read_key(sent, "key"), claimed, row.device_id, happened_at=happened))
    if kind.asks(entry):
        raise AsksNow()
    return kind.record(session, site, entry, at)
