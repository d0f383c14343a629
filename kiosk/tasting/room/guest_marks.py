"""Marks about a guest. Each takes the guest's lock: after a stop is answered nothing more is granted.

Later entries that correct a pour; the pour itself stays as it was recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import Answer, CorrectionEntry, MarkEntry
from kiosk.figures.drinks import Mark, Offer, Server, ServiceState, decide, guest_state, tighten
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.rows import lock_guest, lock_guests
from kiosk.store.tables.staff import staff_roles
from kiosk.store.tables.tasting import pour_marks
from kiosk.store.tables.tours import marks
from kiosk.tasting.errors import AnotherPersonChecks, CheckInPerson, Malformed, NotTheirMark, TooLate
from kiosk.tasting.room.pouring import Glass, lock_glasses
from kiosk.tasting.rules.standing import lock_and_read_guest

MARK_KINDS = frozenset(
    {
        "id_check",
        "under_age",
        "no_alcohol",
        "no_alcohol_lifted",
        "service_stopped",
        "service_resumed",
        "gone",
        "back",
        "liked",
        "declined",
    }
)
OPENING: Mapping[str, frozenset[str]] = {
    "id_check": frozenset({"guide", "bar", "manager"}),
    "service_resumed": frozenset({"manager"}),
}
"""Marks after which more may be poured, and the roles that may make them: only of
somebody who is signed in on this device now. A claim from a queue is not enough, for
whoever picks up a tablet could claim whoever signed out on it."""


def mark(session: Session, sent: MarkEntry, now: datetime) -> Answer:
    """Record a mark. The session is a write transaction that has not read yet.

    Raises NoSuchRow for an unknown guest, Malformed for an unknown kind,
    CheckInPerson, NotTheirMark, AnotherPersonChecks, and KeyConflict.
    """
    if sent.kind not in MARK_KINDS:
        raise Malformed(part="kind")
    if sent.kind in OPENING:
        _demand_role(session, sent, OPENING[sent.kind])
    lock_guest(session, sent.guest_id)
    at = sent.origin.at(now)
    if sent.kind == "id_check":
        _demand_another_person(session, sent)
    ledgers.append(session, marks, _values(sent, at, now), ignoring={"at", "device_id"})
    return Answer(sent.origin.key, "marked", guest_id=sent.guest_id, at=at)


def _demand_role(session: Session, sent: MarkEntry, roles: frozenset[str]) -> None:
    if sent.origin.by is None or not sent.origin.here:
        raise CheckInPerson()
    theirs = session.scalars(select(staff_roles.c.role).where(staff_roles.c.staff_id == sent.origin.by))
    if roles.isdisjoint(theirs):
        raise NotTheirMark()


def _demand_another_person(session: Session, sent: MarkEntry) -> None:
    before = [entry for entry in of_guest(session, sent.guest_id) if entry.key != sent.origin.key]
    if guest_state(entry for entry in before if entry.kind in ("id_check", "under_age")) is not (
        ServiceState.UNDER_AGE
    ):
        return
    last = max((e for e in before if e.kind == "under_age"), key=lambda e: (e.at, e.key))
    if last.by == sent.origin.by:
        raise AnotherPersonChecks()


def of_guest(session: Session, guest_id: int) -> list[Mark]:
    """Return a guest's marks in no order."""
    m = marks.c
    rows = session.execute(select(m.key, m.at, m.kind, m.by).where(m.guest_id == guest_id))
    return [Mark(*row) for row in rows]


def _values(sent: MarkEntry, at: datetime, now: datetime) -> dict[str, object]:
    return {
        **sent.origin.values(at, now),
        "guest_id": sent.guest_id,
        "kind": sent.kind,
        "detail": sent.detail,
    }


CORRECTION_KINDS = frozenset({"void", "not_served", "cleared", "reassign", "unfinished", "finished"})
UNDO = timedelta(seconds=20)
ON_THE_WAY = timedelta(seconds=3)
"""An entry in the last moment of the 20 seconds may still be on its way."""


def correct(session: Session, site: Site, sent: CorrectionEntry, now: datetime) -> Answer:
    """Record a correction under the locks of the glass and of every guest whom it touches.

    The session is a write transaction that has not read yet. A void is
    accepted for 20 seconds after its entry. A glass that went to a guest past what the
    rules leave them is recorded, with the reasons as its flag. Raises UnknownPour,
    TooLate, Malformed, NoSuchRow for an unknown guest, and KeyConflict.
    """
    if sent.kind not in CORRECTION_KINDS or (sent.kind == "reassign") != (sent.guest_id is not None):
        raise Malformed(part="kind")
    (glass,) = lock_glasses(session, [sent.pour_key])
    named = glass.guests if sent.guest_id is None else glass.guests | {sent.guest_id}
    lock_guests(session, named)
    at = sent.origin.at(now)
    stands = any(mark.key == sent.origin.key for mark in glass.marks)
    if sent.kind == "void" and not stands and at - glass.pour.at > UNDO + ON_THE_WAY:
        raise TooLate(seconds=int(UNDO.total_seconds()))
    ledgers.append(session, pour_marks, _values_correcting(sent, at, now), ignoring={"at", "device_id"})
    reasons = () if sent.guest_id is None else _against(session, site, glass, sent.guest_id, at)
    return Answer(sent.origin.key, "corrected", reasons=reasons, guest_id=glass.pour.guest_id, at=at)


def _against(session: Session, site: Site, glass: Glass, guest_id: int, at: datetime) -> tuple[str, ...]:
    """Return what the rules say of this glass before that guest, beside all else that they had."""
    standing = lock_and_read_guest(session, site, guest_id, "", at)
    had = [one for one in standing.served if one.key != glass.pour.key]
    what = Offer(glass.pour.product, glass.pour.volume_ul, glass.pour.abv_e2, glass.pour.neat)
    rules = tighten(site.policy, standing.restrictions)
    return decide(rules, standing.guest, had, Server(), standing.room, at, what).reasons


def _values_correcting(sent: CorrectionEntry, at: datetime, now: datetime) -> dict[str, object]:
    return {
        **sent.origin.values(at, now),
        "pour_key": sent.pour_key,
        "kind": sent.kind,
        "guest_id": sent.guest_id,
    }
