"""Marks about a guest. Each takes the guest's lock: after a stop is answered nothing more is granted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import Mark, ServiceState, guest_state
from kiosk.store import ledgers
from kiosk.store.guests import lock_guest
from kiosk.store.tables.staff import staff_roles
from kiosk.store.tables.tours import marks
from kiosk.tasting.entries import Answer, MarkTap
from kiosk.tasting.errors import AnotherPersonChecks, CheckInPerson, Malformed, NotTheirMark

KINDS = frozenset(
    {
        "document",
        "under_age",
        "none_today",
        "drinks_today",
        "stopped",
        "lifted",
        "gone",
        "back",
        "liked",
        "declined",
    }
)
OPENING: Mapping[str, frozenset[str]] = {
    "document": frozenset({"guide", "bar", "manager"}),
    "lifted": frozenset({"manager"}),
}
"""Marks after which more may be poured, and the roles that may make them: only of
somebody who is signed in on this device now. A claim from a queue is not enough, for
whoever picks up a tablet could claim whoever signed out on it."""


def mark(session: Session, sent: MarkTap, now: datetime) -> Answer:
    """Record a mark. The session is a write transaction that has not read yet.

    Raises NoSuchRow for an unknown guest, Malformed for an unknown kind,
    CheckInPerson, NotTheirMark, AnotherPersonChecks, and KeyConflict.
    """
    if sent.kind not in KINDS:
        raise Malformed(part="kind")
    if sent.kind in OPENING:
        _demand_role(session, sent, OPENING[sent.kind])
    lock_guest(session, sent.guest_id)
    at = sent.tap.at(now)
    if sent.kind == "document":
        _demand_another_person(session, sent)
    ledgers.append(session, marks, _values(sent, at, now), found_here={"at", "device_id"})
    return Answer(sent.tap.key, "marked", guest_id=sent.guest_id, at=at)


def _demand_role(session: Session, sent: MarkTap, roles: frozenset[str]) -> None:
    if sent.tap.by is None or not sent.tap.here:
        raise CheckInPerson()
    theirs = session.scalars(select(staff_roles.c.role).where(staff_roles.c.staff_id == sent.tap.by))
    if roles.isdisjoint(theirs):
        raise NotTheirMark()


def _demand_another_person(session: Session, sent: MarkTap) -> None:
    before = [entry for entry in of_guest(session, sent.guest_id) if entry.key != sent.tap.key]
    if guest_state(entry for entry in before if entry.kind in ("document", "under_age")) is not (
        ServiceState.UNDER_AGE
    ):
        return
    last = max((e for e in before if e.kind == "under_age"), key=lambda e: (e.at, e.key))
    if last.by == sent.tap.by:
        raise AnotherPersonChecks()


def of_guest(session: Session, guest_id: int) -> list[Mark]:
    """Return a guest's marks in no order."""
    m = marks.c
    rows = session.execute(select(m.key, m.at, m.kind, m.by).where(m.guest_id == guest_id))
    return [Mark(*row) for row in rows]


def _values(sent: MarkTap, at: datetime, now: datetime) -> dict[str, object]:
    return {
        **sent.tap.values(at, now),
        "guest_id": sent.guest_id,
        "kind": sent.kind,
        "detail": sent.detail,
    }
