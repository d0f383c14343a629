"""Marks about a guest, such as a checked ID or a stop of service.

Each locks the guest first: after a stop is answered, no pour is granted any more.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import (
    CODE,
    SERVERS,
    Answer,
    EntryKind,
    EntryOrigin,
    RawEntry,
    read_code,
    read_whole,
)
from kiosk.entries.errors import (
    AnotherPersonChecks,
    GuestOfAnotherTour,
    Malformed,
    ManagerChecks,
    NotTakenBack,
)
from kiosk.figures.drinks import RETRACTABLE, Mark, under_age_marks
from kiosk.store import ledgers
from kiosk.store.rows import lock_guest, lock_guests
from kiosk.store.tables.tours import marks


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """A mark about a guest as it was sent: what kind, by whom, and a detail such as a sample's code.

    With a `tour_id` the guest has to be on that tour.
    """

    origin: EntryOrigin
    guest_id: int
    kind: str
    detail: str | None = None
    tour_id: int | None = None


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
        "briefed",
        "tasted_elsewhere",
        "void",
    }
)
OPENING: Mapping[str, frozenset[str]] = {
    "id_check": SERVERS,
    "void": SERVERS,
    "no_alcohol_lifted": SERVERS,
    "back": SERVERS,
    "service_resumed": frozenset({"manager"}),
}
"""Marks after which more may be poured, and the roles that may make them. The person has to be signed
in on this device now: on a tablet left behind, a queued entry could claim the person who signed out.
Every other mark only restricts or describes: it is recorded from every tablet, as a claim where unproven."""


def record_mark(session: Session, sent: MarkEntry, now: datetime) -> Answer:
    """Record a mark. The session is a write transaction that has not read yet.

    Raises NoSuchRow for an unknown guest, Malformed for an unknown kind,
    GuestOfAnotherTour, AnotherPersonChecks, ManagerChecks, NotTakenBack, and KeyConflict.
    """
    if sent.kind not in MARK_KINDS:
        raise Malformed(part="kind")
    guest = lock_guest(session, sent.guest_id)
    if sent.tour_id not in (None, guest["tour_id"]):
        raise GuestOfAnotherTour()
    at = sent.origin.at(now)
    if sent.kind == "id_check":
        _demand_another_person(session, sent)
    if sent.kind == "void":
        _demand_retractable(session, sent)
    values = {"guest_id": sent.guest_id, "kind": sent.kind, "detail": sent.detail}
    values |= {"server_checked": sent.origin.checked}
    ledgers.append(session, marks, sent.origin.values(at, now) | values, ignoring=IGNORED)
    return Answer(sent.origin.key, "marked", guest_id=sent.guest_id, at=at)


def record_briefings(
    session: Session, tour_id: int, guest_ids: Sequence[int], origin: EntryOrigin, now: datetime
) -> None:
    """Record for guests of a tour that they have closed shoes and acknowledged the safety words.

    The key of each mark lies within that of `origin`. The session is a write transaction.
    Raises NoSuchRow and GuestOfAnotherTour.
    """
    locked = lock_guests(session, guest_ids)
    if any(guest["tour_id"] != tour_id for guest in locked.values()):
        raise GuestOfAnotherTour()
    same = {**origin.values(origin.at(now), now), "kind": "briefed", "server_checked": origin.checked}
    rows = [
        {**same, "detail": None, "key": ledgers.key_within(origin.key, one), "guest_id": one}
        for one in sorted(locked)
    ]
    ledgers.append_all(session, marks, rows)


IGNORED = frozenset({"at", "device_id", "server_checked"})
"""What the server says of an entry, and may say otherwise when it is sent again."""


def _demand_another_person(session: Session, sent: MarkEntry) -> None:
    """Refuse the ID of a guest under age to everyone who marked them so.

    Where a marker is only claimed it may have been anyone, so a manager checks the ID.
    """
    marked = marks_by_guest(session, [sent.guest_id])[sent.guest_id]
    standing = under_age_marks(mark for mark in marked if mark.key != sent.origin.key)
    if any(mark.checked and mark.by == sent.origin.by for mark in standing):
        raise AnotherPersonChecks()
    if "manager" not in sent.origin.roles and not all(mark.checked for mark in standing):
        raise ManagerChecks()


def _demand_retractable(session: Session, sent: MarkEntry) -> None:
    """Refuse to take back what is no mark of this guest, or what only another person or a manager ends."""
    marked = marks_by_guest(session, [sent.guest_id])[sent.guest_id]
    if not any(mark.key == sent.detail and mark.kind in RETRACTABLE for mark in marked):
        raise NotTakenBack()


def marks_by_guest(session: Session, guest_ids: Select[tuple[int]] | Sequence[int]) -> dict[int, list[Mark]]:
    """Return the marks about some guests, by the guest's id, in no order; an empty list for one without."""
    m = marks.c
    by_guest: dict[int, list[Mark]] = defaultdict(list)
    columns = (m.guest_id, m.key, m.at, m.kind, m.by, m.detail, m.server_checked)
    for guest_id, *mark in session.execute(select(*columns).where(m.guest_id.in_(guest_ids))):
        by_guest[guest_id].append(Mark(*mark))
    return by_guest


def _parse(row: RawEntry, origin: EntryOrigin) -> MarkEntry:
    detail = read_code(row, "detail", 80) if row.get("detail") is not None else None
    if detail is not None and not CODE.fullmatch(detail):
        raise Malformed(part="detail")
    tour_id = read_whole(row, "tour") if row.get("tour") is not None else None
    return MarkEntry(origin, read_whole(row, "guest"), read_code(row, "kind", 20), detail, tour_id)


def _asks(entry: MarkEntry) -> Collection[str]:
    return OPENING.get(entry.kind, ())


GUEST_MARKS = EntryKind(
    "marks", SERVERS, _asks, _parse, lambda session, _site, entry, now: record_mark(session, entry, now)
)
