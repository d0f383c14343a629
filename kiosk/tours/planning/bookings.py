"""Booking people on a tour: adding, changing and canceling a booking under the tour's lock.

The open bookings of a tour never need more than its places. Names, contact, notes, access needs
and allergens are personal: the history never keeps them, and they are emptied with the guests' names.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.entries.errors import EntryError
from kiosk.site.products import ALLERGENS
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import bookings, guests
from kiosk.tours.planning.tours import lock_planned_tour, people_booked
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault, FormFaults

LENGTHS: Mapping[str, int] = {
    "lead_name": 80,
    "contact": 120,
    "notes": 400,
    "access_needs": 200,
    "allergy_notes": 200,
    "voucher": 80,
}
WALK_IN = N_("walk-in")
"""The name of a booking of people who came without one."""

NO_NAME = N_("Enter a name, or for people who walk in: “walk-in”.")
TOO_LONG = N_("This is {n} characters long. Allowed: at most {most}.")
NO_SIZE = N_("“{typed}” is not possible. Allowed: a whole number from {least} to {most}.")
FULL = N_("No place is free: {booked} of {places} places of this tour are booked.")
NO_LANGUAGE = N_("Choose one of: {allowed}.")
NO_TICKET = N_("“{typed}” is no kind of ticket of this house. Allowed: {allowed}.")
NO_TICKETS = N_("This house has no kinds of tickets. Leave it empty.")
NO_ALLERGEN = N_("“{typed}” is not on the list of allergens. Write it in the notes.")


class GuestsCheckedIn(EntryError):
    """A booking whose guests are checked in cannot be canceled."""

    status = 409
    message = N_("Guests of this booking are checked in: it cannot be canceled.")


class PrivateTour(EntryError):
    """A private tour takes one booking only."""

    status = 409
    message = N_("This is a private group: nobody else is booked on its tour.")


class NoRoom(EntryError):
    """A tour has not enough free places."""

    status = 409
    message = N_("No place is free: {booked} of {places} places of this tour are booked.")


class BookingFaults(FormFaults[str]):
    """A booking that cannot be saved: a message with its facts by field."""

    message = N_("Not saved yet. What is wrong is marked below.")


@dataclass(frozen=True, slots=True)
class BookingDraft:
    """A booking as typed; `size` is None where no whole number was typed."""

    lead_name: str
    size: int | None
    language: str
    contact: str = ""
    notes: str = ""
    access_needs: str = ""
    allergens: tuple[str, ...] = ()
    typed_size: str = ""
    allergy_notes: str = ""
    voucher: str = ""
    more_languages: tuple[str, ...] = ()
    ticket: str | None = None  # its kind: "" for one that is not known, None where it was not asked
    source_key: str | None = None


def find_booking(session: Session, tour_id: int, booking_id: int) -> Row[Any]:
    """Return the row of an open booking of a tour. Raises NoSuchRow."""
    b = bookings.c
    query = select(bookings).where(b.id == booking_id, b.tour_id == tour_id, b.cancelled_at.is_(None))
    row = session.execute(query).one_or_none()
    if row is None:
        raise NoSuchRow(bookings.name, booking_id)
    return row


def add_booking(session: Session, site: Site, tour_id: int, draft: BookingDraft) -> int:
    """Record a booking of a tour and return its id. Raises BookingFaults, NoSuchRow and TourCanceled."""
    tour = lock_planned_tour(session, tour_id)
    if tour.private and people_booked(session, tour_id):
        raise PrivateTour()
    _check(session, site, tour, draft, None)
    own = {"source_key": draft.source_key} if draft.source_key else {}
    return rows.insert(session, bookings, {**booking_values(draft), **own, "tour_id": tour_id})


def add_walk_in(
    session: Session,
    site: Site,
    tour_id: int,
    size: int,
    name: str,
    language: str,
    ticket: str | None = None,
) -> int:
    """Book people who stand at the door, under a name that says so; the rest is asked at check-in.

    Raises BookingFaults, NoSuchRow, PrivateTour and TourCanceled.
    """
    draft = BookingDraft(name, size, language, typed_size=str(size), ticket=ticket)
    return add_booking(session, site, tour_id, draft)


def resize_booking(
    session: Session, tour_id: int, booking_id: int, by_people: int, revision: int, *, by: int, at: datetime
) -> None:
    """Make a booking larger or smaller by some people; guests who are checked in stay in it.

    Raises NoSuchRow, TourCanceled, NoRoom, GuestsCheckedIn and Stale.
    """
    tour = lock_planned_tour(session, tour_id)
    size = find_booking(session, tour_id, booking_id).size + by_people
    if size < max(1, _checked_in(session, booking_id)):
        raise GuestsCheckedIn()
    others = people_booked(session, tour_id, except_booking=booking_id)
    if by_people > 0 and others + size > tour.places:
        raise NoRoom(booked=others + size - by_people, places=tour.places)
    rows.change(session, bookings, booking_id, revision, {"size": size}, by=by, at=at, why="planned")


def record_no_show(
    session: Session, tour_id: int, booking_id: int, revision: int, *, by: int, at: datetime
) -> None:
    """Record that the people of a booking did not come, which frees their places.

    Raises NoSuchRow, TourCanceled, GuestsCheckedIn and Stale.
    """
    lock_planned_tour(session, tour_id)
    find_booking(session, tour_id, booking_id)
    if _checked_in(session, booking_id):
        raise GuestsCheckedIn()
    rows.change(session, bookings, booking_id, revision, {"no_show_at": at}, by=by, at=at, why="no-show")


def bring_back_booking(
    session: Session, tour_id: int, booking_id: int, revision: int, *, by: int, at: datetime
) -> None:
    """Take back that a booking was canceled, or that its people did not come, where there are places.

    Raises NoSuchRow, TourCanceled, PrivateTour, NoRoom and Stale.
    """
    tour = lock_planned_tour(session, tour_id)
    b = bookings.c
    row = session.execute(select(bookings).where(b.id == booking_id, b.tour_id == tour_id)).one_or_none()
    if row is None:
        raise NoSuchRow(bookings.name, booking_id)
    booked = people_booked(session, tour_id, except_booking=booking_id)
    if tour.private and booked:
        raise PrivateTour()
    if booked + row.size > tour.places:
        raise NoRoom(booked=booked, places=tour.places)
    back = {"cancelled_at": None, "no_show_at": None}
    rows.change(session, bookings, booking_id, revision, back, by=by, at=at, why="brought back")


def canceled_bookings(session: Session, tour_id: int) -> Sequence[Row[Any]]:
    """Return the bookings of a tour that are canceled, in order."""
    b = bookings.c
    query = select(bookings).where(b.tour_id == tour_id, b.cancelled_at.is_not(None))
    return session.execute(query.order_by(b.id)).all()


def takes_places(booking: Row[Any]) -> bool:
    """Return whether the people of a booking are expected."""
    return booking.cancelled_at is None and booking.no_show_at is None


def change_booking(
    session: Session,
    site: Site,
    tour_id: int,
    booking_id: int,
    draft: BookingDraft,
    revision: int,
    *,
    by: int,
    at: datetime,
) -> None:
    """Change a booking that was read at `revision`; its guests also get the allergens that are new.

    Raises BookingFaults, NoSuchRow, TourCanceled and Stale.
    """
    tour = lock_planned_tour(session, tour_id)
    former = find_booking(session, tour_id, booking_id)
    _check(session, site, tour, draft, former)
    values = booking_values(draft)
    rows.change(session, bookings, booking_id, revision, values, by=by, at=at, why="planned")
    new = set(draft.allergens).difference(former.allergens or ())
    _tell_guests(session, booking_id, new, by, at)


def cancel_booking(
    session: Session, tour_id: int, booking_id: int, revision: int, *, by: int, at: datetime
) -> None:
    """Cancel a booking, which frees its places. Raises NoSuchRow, GuestsCheckedIn and Stale."""
    lock_planned_tour(session, tour_id)
    find_booking(session, tour_id, booking_id)
    if _checked_in(session, booking_id):
        raise GuestsCheckedIn()
    rows.change(session, bookings, booking_id, revision, {"cancelled_at": at}, by=by, at=at, why="canceled")


def booking_values(draft: BookingDraft) -> dict[str, object]:
    """Return the columns of a booking that its form fills."""
    texts = {name: getattr(draft, name) or None for name in LENGTHS}
    named = [code for code in ALLERGENS if code in draft.allergens]
    ticket = {} if draft.ticket is None else {"ticket": draft.ticket or None}
    return {**texts, **ticket, "size": draft.size, "language": draft.language, "allergens": named or None} | {
        "more_languages": [code for code in draft.more_languages if code != draft.language] or None
    }


def _checked_in(session: Session, booking_id: int) -> int:
    count = select(func.count()).select_from(guests).where(guests.c.booking_id == booking_id)
    return int(session.execute(count).scalar_one())


def _tell_guests(session: Session, booking_id: int, new: set[str], by: int, at: datetime) -> None:
    """Add allergens that are new in a booking to those of its guests, who may be at the table already."""
    g = guests.c
    seated = select(g.id, g.revision, g.allergens).where(g.booking_id == booking_id, g.purged_at.is_(None))
    for guest in session.execute(seated.order_by(g.id)).all() if new else ():
        named = new.union(guest.allergens or ())
        values = {"allergens": [code for code in ALLERGENS if code in named]}
        rows.change(session, guests, guest.id, guest.revision, values, by=by, at=at, why="booked")


def _check(
    session: Session, site: Site, tour: Row[Any], draft: BookingDraft, former: Row[Any] | None
) -> None:
    faults = dict(_faults(session, site, tour, draft, former))
    if faults:
        raise BookingFaults(faults)


def field_faults(site: Site, draft: BookingDraft, former: Any = None) -> Iterator[tuple[str, Fault]]:
    """Yield what is wrong in the fields of a booking, but for how many people there are.

    A `former` booking keeps the kind of ticket that it has, whether the house still sells it or not.
    """
    if draft.ticket and draft.ticket not in {*site.ticket_kinds, getattr(former, "ticket", None)}:
        facts = {"typed": draft.ticket[:40], "allowed": site.ticket_kinds}
        yield "ticket", (NO_TICKET, facts) if site.ticket_kinds else (NO_TICKETS, {})
    if not draft.lead_name:
        yield "lead_name", (NO_NAME, {})
    for name, most in LENGTHS.items():
        if len(getattr(draft, name)) > most:
            yield name, (TOO_LONG, {"n": len(getattr(draft, name)), "most": most})
    if not {draft.language, *draft.more_languages} <= set(site.codes):
        yield "language", (NO_LANGUAGE, {"allowed": site.codes})
    unknown = set(draft.allergens).difference(ALLERGENS)
    if unknown:
        yield "allergens", (NO_ALLERGEN, {"typed": sorted(unknown)})


def _faults(
    session: Session, site: Site, tour: Row[Any], draft: BookingDraft, former: Row[Any] | None
) -> Iterator[tuple[str, Fault]]:
    yield from field_faults(site, draft, former)
    booked = people_booked(session, tour.id, except_booking=former.id if former else None)
    least = max(1, _checked_in(session, former.id)) if former else 1
    most = tour.places - booked
    if most < least:
        yield "size", (FULL, {"booked": booked, "places": tour.places})
    elif draft.size is None or not least <= draft.size <= most:
        yield "size", (NO_SIZE, {"typed": draft.typed_size, "least": least, "most": most})
