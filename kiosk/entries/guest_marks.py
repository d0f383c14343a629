"""Marks about a guest, such as a checked ID or a stop of service.

Each takes the guest's lock: once a stop is answered, nothing more is granted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    CODE,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_whole,
)
from kiosk.entries.errors import AnotherPersonChecks, Malformed, RoleMayNotMark, SignInFirst
from kiosk.figures.drinks import Mark, ServiceState, guest_state
from kiosk.store import ledgers
from kiosk.store.rows import lock_guest
from kiosk.store.tables.staff import staff_roles
from kiosk.store.tables.tours import marks


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """A mark about a guest."""

    origin: EntryOrigin
    guest_id: int
    kind: str
    detail: str | None = None


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


def record_mark(session: Session, sent: MarkEntry, now: datetime) -> Answer:
    """Record a mark. The session is a write transaction that has not read yet.

    Raises NoSuchRow for an unknown guest, Malformed for an unknown kind,
    SignInFirst, RoleMayNotMark, AnotherPersonChecks, and KeyConflict.
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
        raise SignInFirst()
    theirs = session.scalars(select(staff_roles.c.role).where(staff_roles.c.staff_id == sent.origin.by))
    if roles.isdisjoint(theirs):
        raise RoleMayNotMark()


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


def _parse(row: RawEntry, origin: EntryOrigin) -> MarkEntry:
    detail = read_code(row, "detail", 80) if row.get("detail") is not None else None
    if detail is not None and not CODE.fullmatch(detail):
        raise Malformed(part="detail")
    return MarkEntry(origin, read_whole(row, "guest"), read_code(row, "kind", 20), detail)


GUEST_MARKS = EntryKind("marks", _parse, lambda session, _site, entry, now: record_mark(session, entry, now))
