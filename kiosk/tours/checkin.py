"""The check-in of a tour's group: its bookings, guest numbers, marks about guests, and their allergens."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, Select, func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import record_entry
from kiosk.entries.errors import Malformed
from kiosk.entries.guest_marks import GUEST_MARKS, MarkEntry, marks_by_guest
from kiosk.figures.drinks import Mark, ServiceState, born_on_or_before, guest_gone, guest_state
from kiosk.site.products import ALLERGENS
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import Store, run
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tours.day import one_tour
from kiosk.words.catalogs import N_

CHECK_IN_MARKS = ("id_check", "under_age", "no_alcohol", "no_alcohol_lifted")
"""The kinds of marks that check-in records; every other kind is recorded where it happens."""


@dataclass(frozen=True, slots=True)
class GroupGuest:
    """A guest at check-in. `possible_marks` are the marks that would change something now."""

    id: int
    number: int
    first_name: str | None
    language: str
    state: ServiceState
    gone: bool
    possible_marks: Sequence[str]
    allergens: Sequence[str] = ()  # codes of what they named
    access_needs: str | None = None


@dataclass(frozen=True, slots=True)
class GroupBooking:
    """A booking of a group, with what its people asked for. `missing` of them have no number yet."""

    id: int
    lead_name: str | None
    ticket: str | None
    language: str
    size: int
    guests: Sequence[GroupGuest]
    revision: int = 1
    contact: str | None = None
    notes: str | None = None
    access_needs: str | None = None
    allergens: Sequence[str] = ()

    @property
    def missing(self) -> int:
        """How many of the booked people have no guest number yet."""
        return max(0, self.size - len(self.guests))


@dataclass(frozen=True, slots=True)
class Group:
    """A tour's bookings and the birthday that makes a guest old enough on this service day."""

    tour: Row[Any]
    bookings: Sequence[GroupBooking]
    guest_age: int
    born_by: date

    def without_names(self) -> "Group":
        """Return the group without its people's names and needs."""
        unnamed = [
            replace(
                booking,
                lead_name=None,
                contact=None,
                notes=None,
                access_needs=None,
                allergens=(),
                guests=[
                    replace(guest, first_name=None, allergens=(), access_needs=None)
                    for guest in booking.guests
                ],
            )
            for booking in self.bookings
        ]
        return replace(self, bookings=unnamed)


def group(session: Session, site: Site, tour_id: int, now: datetime) -> Group:
    """Return the bookings and guests of a tour, in three queries. Raises NoSuchRow for an unknown tour."""
    tour = one_tour(session, tour_id)
    seated = _guests(session, tour_id)
    booked = select(bookings).where(
        (bookings.c.tour_id == tour_id) | bookings.c.id.in_(seated), bookings.c.cancelled_at.is_(None)
    )
    in_group = [
        GroupBooking(
            *(row.id, row.lead_name, row.ticket, row.language, row.size, seated.get(row.id, ())),
            *(row.revision, row.contact, row.notes, row.access_needs, tuple(row.allergens or ())),
        )
        for row in session.execute(booked.order_by(bookings.c.id))
    ]
    born_by = born_on_or_before(site.service_day(now), site.policy.guest_age)
    return Group(tour, in_group, site.policy.guest_age, born_by)


def mark_guest(store: Store, site: Site, entry: MarkEntry, now: datetime) -> None:
    """Record a mark about a guest of a tour at check-in, by the rules of every mark.

    Raises Malformed for a kind that check-in does not record, and what recording a mark raises.
    """
    if entry.kind not in CHECK_IN_MARKS:
        raise Malformed(part="kind")
    run(store, lambda session: record_entry(session, site, GUEST_MARKS, entry, now))


def possible_marks(state: ServiceState, kinds: Collection[str]) -> tuple[str, ...]:
    """Return the kinds of marks that would change a guest's state, given the `kinds` they have already."""
    no_alcohol = "no_alcohol_lifted" if state is ServiceState.NO_ALCOHOL else "no_alcohol"
    match state:
        case ServiceState.SERVICE_STOPPED:
            return ()
        case ServiceState.UNDER_AGE:
            return ("id_check",)
    unchecked = () if "id_check" in kinds else ("id_check",)
    return (*unchecked, no_alcohol, "under_age")


def _guests(session: Session, tour_id: int) -> Mapping[int, Sequence[GroupGuest]]:
    g = guests.c
    marked = marks_by_guest(session, select(g.id).where(g.tour_id == tour_id))
    seated = select(g.id, g.number, g.first_name, g.language, g.booking_id, g.allergens, g.access_needs)
    seated = seated.where(g.tour_id == tour_id)
    by_booking: dict[int, list[GroupGuest]] = defaultdict(list)
    for row in session.execute(seated.order_by(g.number)):
        by_booking[row.booking_id].append(_guest(row, marked[row.id]))
    return by_booking


def _guest(row: Any, marked: Sequence[Mark]) -> GroupGuest:
    state = guest_state(marked)
    possible = possible_marks(state, {mark.kind for mark in marked})
    person = (row.id, row.number, row.first_name, row.language)
    named = tuple(row.allergens or ())
    return GroupGuest(*person, state, guest_gone(marked), possible, named, row.access_needs)


def give_numbers(session: Session, site: Site, tour_id: int, booking_id: int, now: datetime) -> list[int]:
    """Give a guest number to each person of a booking who has none, and return the new numbers.

    Numbers are unique on the site for the service day. The session is a write transaction.
    Raises NoSuchRow for a booking that is not of this tour, or is cancelled. Repeated, it gives none.
    Each guest starts with the allergens that the booking named.
    """
    day = site.service_day(now)
    _lock_tours_of_day(session, site, now)
    coming = (
        select(bookings.c.size, bookings.c.language, bookings.c.allergens)
        .join(tours, tours.c.id == bookings.c.tour_id)
        .where(bookings.c.id == booking_id, tours.c.id == tour_id)
        .where(bookings.c.cancelled_at.is_(None), tours.c.cancelled_at.is_(None))
    )
    party = session.execute(coming).one_or_none()
    if party is None:
        raise NoSuchRow(bookings.name, booking_id)
    there = select(func.count()).select_from(guests).where(guests.c.booking_id == booking_id)
    last = select(func.coalesce(func.max(guests.c.number), 0)).where(guests.c.day == day)
    first = session.execute(last).scalar_one() + 1
    numbers = list(range(first, first + max(0, party.size - session.execute(there).scalar_one())))
    same = {"booking_id": booking_id, "tour_id": tour_id, "day": day, "language": party.language}
    # Who of them it is may not be known: each is asked until staff know better.
    same["allergens"] = party.allergens or None
    rows.insert_many(session, guests, [{**same, "link_no": 0, "number": number} for number in numbers])
    return numbers


def _lock_tours_of_day(session: Session, site: Site, now: datetime) -> None:
    """Lock the day's tours: their guests share one series of numbers, so two desks take turns."""
    start, end = site.day_bounds(site.service_day(now))
    of_day = select(tours.c.id).where(tours.c.starts_at >= start, tours.c.starts_at < end)
    session.execute(of_day.order_by(tours.c.id).with_for_update()).all()


def allergens_of_guest(session: Session, tour_id: int, guest_id: int) -> Row[Any]:
    """Return id, revision, number and day of a guest of a tour, and the codes of the `allergens` they named.

    The codes are None where they named none. Raises NoSuchRow for a guest of another tour.
    """
    g = guests.c
    wanted: Select[Any] = select(g.id, g.revision, g.number, g.day, g.allergens)
    row = session.execute(wanted.where(g.id == guest_id, g.tour_id == tour_id)).one_or_none()
    if row is None:
        raise NoSuchRow(guests.name, guest_id)
    return row


def record_allergens(
    session: Session,
    tour_id: int,
    guest_id: int,
    revision: int,
    codes: Sequence[str],
    *,
    by: int,
    at: datetime,
) -> None:
    """Replace the allergens on record for a guest by `codes`; the history never keeps them.

    Staff ask before a pour that contains one. Raises Malformed for an unknown code, and NoSuchRow
    and Stale as every change of a row does.
    """
    if not set(codes) <= set(ALLERGENS):
        raise Malformed(part="allergens")
    allergens_of_guest(session, tour_id, guest_id)
    values = {"allergens": [code for code in ALLERGENS if code in codes] or None}
    rows.change(session, guests, guest_id, revision, values, by=by, at=at, why="told at the desk")


_MARK_LABELS: Mapping[str, str] = {
    "id_check": N_("ID checked"),
    "under_age": N_("Under age"),
    "no_alcohol": N_("No alcohol today"),
    "no_alcohol_lifted": N_("Drinking after all"),
}


def mark_label(kind: str, state: ServiceState) -> str:
    """Return the message on the button that records a mark, for a guest in a state."""
    if kind == "id_check" and state is ServiceState.UNDER_AGE:
        return N_("ID checked by second person")
    return _MARK_LABELS[kind]
