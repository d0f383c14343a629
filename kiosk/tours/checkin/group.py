"""The group of a tour as check-in shows it: every booked head in its place, with a number or without.

A place is one head of a booking, counted from 1. A guest keeps the place at which they were checked
in, so that nothing on the grid moves.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import (
    RETRACTABLE,
    Mark,
    ServiceState,
    born_on_or_before,
    guest_gone,
    guest_state,
    standing_marks,
)
from kiosk.site.settings import Site
from kiosk.store.tables.tours import bookings, guests
from kiosk.tours.day import one_tour


@dataclass(frozen=True, slots=True)
class GroupGuest:
    """A guest at check-in. `marks` stand, in order of time; `possible_marks` would change something now."""

    id: int
    number: int
    first_name: str | None
    language: str
    state: ServiceState
    gone: bool
    possible_marks: Sequence[str]
    allergens: Sequence[str] = ()  # codes of what they named
    access_needs: str | None = None
    place: int = 1
    revision: int = 1
    marks: Sequence[Mark] = ()

    def last(self, kind: str) -> Mark | None:
        """Return the latest mark of a kind that stands."""
        return next((mark for mark in reversed(self.marks) if mark.kind == kind), None)

    @property
    def briefed(self) -> bool:
        """Whether their shoes are closed and the safety words acknowledged."""
        return self.last("briefed") is not None

    @property
    def adult(self) -> str | None:
        """The number of the adult who accompanies a guest under age, None where none is named."""
        mark = self.last("under_age")
        return mark.detail if mark and self.state is ServiceState.UNDER_AGE else None

    @property
    def retractable(self) -> Sequence[Mark]:
        """The marks that can be taken back, the latest first."""
        return [mark for mark in reversed(self.marks) if mark.kind in RETRACTABLE]


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
    allergy_notes: str | None = None
    no_show: bool = False

    @property
    def missing(self) -> int:
        """How many of the booked people have no guest number yet."""
        return max(0, self.size - len(self.guests))

    @property
    def expected(self) -> int:
        """How many of those without a number may still come; none of a no-show."""
        return 0 if self.no_show else self.missing

    def heads(self) -> Iterator[tuple[int, GroupGuest | None]]:
        """Return each place of the booking with its guest, None where nobody is checked in."""
        placed = {guest.place: guest for guest in self.guests}
        missing, place = self.missing, 0
        while placed or missing:
            place += 1
            if place in placed:
                yield place, placed.pop(place)
            elif missing:
                missing -= 1
                yield place, None


@dataclass(frozen=True, slots=True)
class Head:
    """A booked head on the grid: its booking, its place there, and the guest once one is checked in."""

    booking: GroupBooking
    place: int
    guest: GroupGuest | None

    @property
    def code(self) -> str:
        """The head's name in addresses."""
        return f"{self.booking.id}-{self.place}"

    @property
    def waits(self) -> bool:
        """Whether check-in still has to ask for an ID here; nobody waits of a booking that did not come."""
        guest = self.guest
        if guest is None:
            return not self.booking.no_show
        return guest.state is ServiceState.NOT_CHECKED and not guest.gone


@dataclass(frozen=True, slots=True)
class Group:
    """A tour's bookings and the birthday that makes a guest old enough on this service day."""

    tour: Row[Any]
    bookings: Sequence[GroupBooking]
    guest_age: int
    born_by: date

    @property
    def heads(self) -> Sequence[Head]:
        """Every booked head, booking by booking."""
        return [Head(booking, place, guest) for booking in self.bookings for place, guest in booking.heads()]

    @property
    def here(self) -> Sequence[GroupGuest]:
        """The guests who have a number and have not left, in order of their numbers."""
        present = [guest for booking in self.bookings for guest in booking.guests if not guest.gone]
        return sorted(present, key=lambda guest: guest.number)

    def head(self, code: str) -> Head | None:
        """Return the head of a code in addresses, or None."""
        return next((head for head in self.heads if head.code == code), None)

    def next_head(self, after: str = "") -> Head | None:
        """Return the next head that waits for its check after another, from the start again at the end."""
        heads = list(self.heads)
        start = next((n + 1 for n, head in enumerate(heads) if head.code == after), 0)
        in_turn = heads[start:] + heads[: max(0, start - 1)]
        return next((head for head in in_turn if head.waits), None)

    def last_mark(self, by: int) -> tuple[Head, Mark] | None:
        """Return the latest mark of a person that can be taken back, with its head.

        Safety words are acknowledged by all at once, and taken back on the sheet of one guest.
        """
        own = [
            (head, mark)
            for head in self.heads
            for mark in (head.guest.retractable if head.guest else ())
            if mark.by == by and mark.kind != "briefed"
        ]
        return max(own, key=lambda one: (one[1].at, one[1].key), default=None)

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
                allergy_notes=None,
                guests=[
                    replace(guest, first_name=None, allergens=(), access_needs=None)
                    for guest in booking.guests
                ],
            )
            for booking in self.bookings
        ]
        return replace(self, bookings=unnamed)


def group(session: Session, site: Site, tour_id: int, now: datetime) -> Group:
    """Return the bookings and guests of a tour, in four queries. Raises NoSuchRow for an unknown tour."""
    tour = one_tour(session, tour_id)
    seated = _guests(session, tour_id)
    booked = select(bookings).where(
        (bookings.c.tour_id == tour_id) | bookings.c.id.in_(seated), bookings.c.cancelled_at.is_(None)
    )
    in_group = [
        GroupBooking(
            *(row.id, row.lead_name, row.ticket, row.language, _size(row, tour_id), seated.get(row.id, ())),
            *(row.revision, row.contact, row.notes, row.access_needs, tuple(row.allergens or ())),
            *(row.allergy_notes, row.no_show_at is not None),
        )
        for row in session.execute(booked.order_by(bookings.c.id))
    ]
    born_by = born_on_or_before(site.service_day(now), site.policy.guest_age)
    return Group(tour, in_group, site.policy.guest_age, born_by)


def _size(booking: Row[Any], tour_id: int) -> int:
    """Return how many heads of a booking this tour expects; of another tour's only those who came here."""
    return int(booking.size) if booking.tour_id == tour_id else 0


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
    seated = seated.add_columns(g.place, g.revision).where(g.tour_id == tour_id)
    by_booking: dict[int, list[GroupGuest]] = defaultdict(list)
    for row in session.execute(seated.order_by(g.number)):
        by_booking[row.booking_id].append(_guest(row, marked[row.id]))
    return by_booking


def _guest(row: Any, marked: Sequence[Mark]) -> GroupGuest:
    state, standing = guest_state(marked), standing_marks(marked)
    possible = possible_marks(state, {mark.kind for mark in standing})
    person = (row.id, row.number, row.first_name, row.language)
    named = (tuple(row.allergens or ()), row.access_needs)
    return GroupGuest(*person, state, guest_gone(marked), possible, *named, row.place, row.revision, standing)
