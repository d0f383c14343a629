"""A group at check-in: bookings, guests with their service states, and what may be marked now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import MarkEntry, record_mark
from kiosk.figures.drinks import Mark, ServiceState, born_on_or_before, guest_gone, guest_state
from kiosk.site.settings import Site
from kiosk.store.engine import Store, run
from kiosk.store.errors import NoSuchRow
from kiosk.store.rows import lock_guest
from kiosk.store.tables.tours import bookings, guests, marks
from kiosk.tours.day import DayTour, one_tour

ACTS = ("id_check", "under_age", "no_alcohol", "no_alcohol_lifted")
"""What may be marked at check-in; everything else is marked where it happens."""


@dataclass(frozen=True, slots=True)
class GroupGuest:
    """A guest at check-in. `acts` are the marks that would change something now."""

    id: int
    number: int
    first_name: str | None
    language: str
    state: ServiceState
    gone: bool
    acts: Sequence[str]
    allergens: Sequence[str] = ()  # codes of what they named


@dataclass(frozen=True, slots=True)
class GroupBooking:
    """A booking of a group. `missing` of its people have no number yet."""

    id: int
    lead_name: str | None
    ticket: str | None
    language: str
    size: int
    guests: Sequence[GroupGuest]

    @property
    def missing(self) -> int:
        """How many of the booked people have no guest number yet."""
        return max(0, self.size - len(self.guests))


@dataclass(frozen=True, slots=True)
class Group:
    """A tour's bookings and the birthday that makes a guest old enough on this service day."""

    tour: DayTour
    bookings: Sequence[GroupBooking]
    guest_age: int
    born_by: date


def group(session: Session, site: Site, tour_id: int, now: datetime) -> Group:
    """Return a tour's group; three queries, however many guests. Raises NoSuchRow."""
    tour = one_tour(session, tour_id)
    seated = _guests(session, tour_id)
    booked = select(bookings).where(
        (bookings.c.tour_id == tour_id) | bookings.c.id.in_(seated), bookings.c.cancelled_at.is_(None)
    )
    found = [
        GroupBooking(row.id, row.lead_name, row.ticket, row.language, row.size, seated.get(row.id, ()))
        for row in session.execute(booked.order_by(bookings.c.id))
    ]
    born_by = born_on_or_before(site.service_day(now), site.policy.guest_age)
    return Group(tour, found, site.policy.guest_age, born_by)


def record(store: Store, site: Site, tour_id: int, entry: MarkEntry, now: datetime) -> None:
    """Record a mark about a guest of this tour through the tasting's own door.

    Raises NoSuchRow for a guest of another tour, Malformed for a mark that is not
    made at check-in, and what the tasting refuses.
    """
    if entry.kind not in ACTS:
        raise Malformed(part="kind")

    def work(session: Session) -> None:
        if lock_guest(session, entry.guest_id)["tour_id"] != tour_id:
            raise NoSuchRow(guests.name, entry.guest_id)
        record_mark(session, entry, now)

    run(store, work)


def acts(state: ServiceState, kinds: Collection[str]) -> tuple[str, ...]:
    """Say which marks would change something for a guest whose marks are of these kinds."""
    no_alcohol = "no_alcohol_lifted" if state is ServiceState.NO_ALCOHOL else "no_alcohol"
    match state:
        case ServiceState.SERVICE_STOPPED:
            return ()
        case ServiceState.UNDER_AGE:
            return ("id_check",)
    unchecked = () if "id_check" in kinds else ("id_check",)
    return (*unchecked, no_alcohol, "under_age")


def _guests(session: Session, tour_id: int) -> Mapping[int, Sequence[GroupGuest]]:
    told: dict[int, list[Mark]] = defaultdict(list)
    of_tour = select(marks.c.guest_id, marks.c.key, marks.c.at, marks.c.kind, marks.c.by).join(guests)
    for guest_id, *mark in session.execute(of_tour.where(guests.c.tour_id == tour_id)):
        told[guest_id].append(Mark(*mark))
    g = guests.c
    seated = select(g.id, g.number, g.first_name, g.language, g.booking_id, g.allergens)
    seated = seated.where(g.tour_id == tour_id)
    found: dict[int, list[GroupGuest]] = defaultdict(list)
    for row in session.execute(seated.order_by(g.number)):
        found[row.booking_id].append(_guest(row, told[row.id]))
    return found


def _guest(row: Any, told: Sequence[Mark]) -> GroupGuest:
    state = guest_state(told)
    may = acts(state, {mark.kind for mark in told})
    known = (row.id, row.number, row.first_name, row.language)
    return GroupGuest(*known, state, guest_gone(told), may, tuple(row.allergens or ()))
