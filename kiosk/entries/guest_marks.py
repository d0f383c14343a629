"""Marks about a guest, such as a checked ID or a stop of service.

Each locks the guest first: after a stop is answered, no pour is granted any more.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Select, select
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
    """A mark about a guest as it was sent: what kind, by whom, and a detail such as a sample's code."""

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
"""Marks after which more may be poured, and the roles that may make them. The person has to be signed
in on this device now: on a tablet left behind, a queued entry could claim the person who signed out."""


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
    values = {"guest_id": sent.guest_id, "kind": sent.kind, "detail": sent.detail}
    ledgers.append(session, marks, sent.origin.values(at, now) | values, ignoring={"at", "device_id"})
    return Answer(sent.origin.key, "marked", guest_id=sent.guest_id, at=at)


def _demand_role(session: Session, sent: MarkEntry, roles: frozenset[str]) -> None:
    if sent.origin.by is None or not sent.origin.here:
        raise SignInFirst()
    theirs = session.scalars(select(staff_roles.c.role).where(staff_roles.c.staff_id == sent.origin.by))
    if roles.isdisjoint(theirs):
        raise RoleMayNotMark()


def _demand_another_person(session: Session, sent: MarkEntry) -> None:
    marked = marks_by_guest(session, [sent.guest_id])[sent.guest_id]
    of_age = [m for m in marked if m.kind in ("id_check", "under_age") and m.key != sent.origin.key]
    if guest_state(of_age) is not ServiceState.UNDER_AGE:
        return
    last = max((m for m in of_age if m.kind == "under_age"), key=lambda m: (m.at, m.key))
    if last.by == sent.origin.by:
        raise AnotherPersonChecks()


def marks_by_guest(session: Session, guest_ids: Select[tuple[int]] | Sequence[int]) -> dict[int, list[Mark]]:
    """Return the marks about some guests, by the guest's id, in no order; an empty list for one without."""
    m = marks.c
    by_guest: dict[int, list[Mark]] = defaultdict(list)
    rows = select(m.guest_id, m.key, m.at, m.kind, m.by, m.detail).where(m.guest_id.in_(guest_ids))
    for guest_id, *mark in session.execute(rows):
        by_guest[guest_id].append(Mark(*mark))
    return by_guest


def _parse(row: RawEntry, origin: EntryOrigin) -> MarkEntry:
    detail = read_code(row, "detail", 80) if row.get("detail") is not None else None
    if detail is not None and not CODE.fullmatch(detail):
        raise Malformed(part="detail")
    return MarkEntry(origin, read_whole(row, "guest"), read_code(row, "kind", 20), detail)


GUEST_MARKS = EntryKind("marks", _parse, lambda session, _site, entry, now: record_mark(session, entry, now))
