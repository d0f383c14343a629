"""Entries that a manager types in for a tablet that keeps them: the server took them no more.

The tablet shows each with a short code. What is typed in is recorded as a fact in the name that was
typed, as a claim, and a ledger of its own keeps under the same key who typed it, when and why. An
entry of that code counts once: it is neither typed in again, nor recorded when the tablet sends it after all.
"""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.entries.entries import Answer, EntryKinds, EntryOrigin, RawEntry, code_of, kind_of
from kiosk.entries.errors import EntryError
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import pour_marks, pours, refusals, typed_entries
from kiosk.store.tables.tours import guests, marks
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words

POUR = "pour"
KINDS: Mapping[str, str] = {
    POUR: N_("Pour"),
    "no_alcohol": N_("No alcohol today"),
    "under_age": N_("Under age"),
    "service_stopped": N_("Stop serving"),
    "gone": N_("Has left"),
}
"""What is typed in: what was poured, and marks that allow nothing. All else is made anew in the tasting."""
REASONS: Mapping[str, str] = {
    "revoked_before": N_("The tablet had been revoked"),
    "too_many": N_("Too much of the tablet waited for review"),
    "too_large": N_("The entry was too large"),
}
"""Why a tablet keeps an entry, as the manager says it: the keys of `review.KEPT_ON_TABLET`."""
_CODE = re.compile(r"([0-9a-f]{6})[ -]?([0-9a-f]{6})", re.IGNORECASE)


class NotTypedIn(EntryError):
    """What was typed in cannot be recorded."""


class NoSuchGuest(NotTypedIn):
    """No guest had that number on that day."""

    message = N_("No guest had the number {number} on {day}.")


class InFuture(NotTypedIn):
    """The time that was typed is still to come."""

    message = N_("This time is still to come. Type when it happened.")


class PartMissing(NotTypedIn):
    """A part of the form is missing or is none of what is allowed."""

    message = N_("Fill in every field: the code has twelve letters and digits, as the tablet shows it.")


class TypedInAlready(NotTypedIn):
    """An entry of that code was typed in before, or the tablet sends one that was."""

    status = 409
    message = N_("A manager typed this entry in already: it is not recorded twice.")


class RecordedAlready(NotTypedIn):
    """The tablet's own entry is on record."""

    status = 409
    message = N_("The entry with this code is on record already.")


class WaitsForReview(NotTypedIn):
    """The tablet's own entry waits for review."""

    status = 409
    message = N_("The entry with this code is held for review: record or discard it there.")


@dataclass(frozen=True, slots=True)
class TypedForm:
    """What a manager typed: the entry's code, what it was, for which guest, when, who served, and why."""

    code: str
    kind: str
    guest_number: int | None
    at: datetime | None
    server: int | None
    reason: str
    product: str = ""
    volume_ul: int | None = None


@dataclass(frozen=True, slots=True)
class TypedIn:
    """Who typed an entry in, when and why (a key of REASONS)."""

    by_id: int
    by: str
    at: datetime
    reason: str


def record_typed_entry(
    session: Session,
    site: Site,
    kinds: EntryKinds,
    form: TypedForm,
    *,
    by: int,
    device_id: int,
    now: datetime,
) -> Answer:
    """Record what a manager typed in, as a claim, with who typed it and why; return the entry's answer.

    Raises NotTypedIn, and what the kind of entry raises.
    """
    code = _code(form)
    _require_new(session, code)
    if form.at is None or form.reason not in REASONS or form.kind not in KINDS:
        raise PartMissing()
    if form.at > now:
        raise InFuture()
    row, key = _row(session, site, form, form.at), new_key()
    typed = {"key": key, "at": now, "recorded_at": now, "by": by, "device_id": device_id}
    try:
        ledgers.append(session, typed_entries, {**typed, "code": code, "reason": form.reason})
    except IntegrityError as error:
        raise TypedInAlready() from error
    kind = kind_of(kinds, row)
    entry = kind.parse({**row, "key": key}, EntryOrigin(key, form.server, device_id, happened_at=form.at))
    return kind.record(session, site, entry, now)


def _code(form: TypedForm) -> str:
    typed = _CODE.fullmatch(form.code.strip())
    if typed is None:
        raise PartMissing()
    return "-".join(typed.groups()).lower()


def _row(session: Session, site: Site, form: TypedForm, at: datetime) -> RawEntry:
    day, g = site.service_day(at), guests.c
    guest = session.scalar(
        select(g.id).where(g.day == day, g.number == form.guest_number, g.tour_id.is_not(None))
    )
    if guest is None:
        raise NoSuchGuest(number=form.guest_number or 0, day=day)
    if form.kind != POUR:
        return {"ledger": "marks", "kind": form.kind, "guest": guest}
    if not form.product or form.volume_ul is None:
        raise PartMissing()
    glass = {"product": form.product, "volume_ul": form.volume_ul}
    return {"ledger": "pours", "guest": guest, **glass, "asked": False}


def _require_new(session: Session, code: str) -> None:
    first, last = code.split("-")
    if is_typed_in(session, code):
        raise TypedInAlready()
    for table in (pours, marks, pour_marks, refusals):
        key = table.c.key
        alike = key.between(first.ljust(32, "0"), first.ljust(32, "f")), key.like(f"%{last}")
        if session.execute(select(key).where(*alike)).first() is not None:
            raise RecordedAlready()
    waiting = session.scalars(select(held.c.payload).where(held.c.settled_at.is_(None)))
    if any(code_of(str(payload.get("key", ""))) == code for payload in waiting):
        raise WaitsForReview()


def is_typed_in(session: Session, code: str) -> bool:
    """Return whether an entry of a code was typed in."""
    return (
        session.execute(select(typed_entries.c.key).where(typed_entries.c.code == code)).first() is not None
    )


def typed_in_text(typed: TypedIn, site: Site, words: Words) -> str:
    """Return who typed an entry in, when and why, as text."""
    at = f"{formats.day(site.local(typed.at).date(), words)}, {formats.time(typed.at, site.zone, words)}"
    why = words.gettext(REASONS[typed.reason])
    return words.gettext("typed in by {name}, {at}: {why}", name=typed.by, at=at, why=why)


def typed_in(session: Session, keys: Collection[str]) -> dict[str, TypedIn]:
    """Return who typed entries in, by their keys; nothing is read where there are no keys."""
    if not keys:
        return {}
    e = typed_entries.c
    query = select(e.key, e.by, staff.c.name, e.at, e.reason).join_from(
        typed_entries, staff, staff.c.id == e.by
    )
    return {key: TypedIn(*values) for key, *values in session.execute(query.where(e.key.in_(list(keys))))}
