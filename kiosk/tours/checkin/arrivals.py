"""Checking guests in: a number for each who has come, marks about them, and their language and allergens.

A number is given with the first mark about a head, and people who have not come get none. Two desks
take turns at the day's series of numbers; at one place they mark the same guest.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import Answer, EntryOrigin, record_entry
from kiosk.entries.errors import EntryError, GuestOfAnotherTour, Malformed
from kiosk.entries.guest_marks import GUEST_MARKS, MarkEntry, marks_by_guest, record_briefings
from kiosk.figures.drinks import ServiceState, guest_gone, guest_state, standing_marks
from kiosk.site.products import ALLERGENS
from kiosk.site.settings import ID_KINDS, Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.retention import personal_columns
from kiosk.store.rows import lock_guest
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.words.catalogs import N_

CHECK_IN_MARKS = (
    "id_check",
    "under_age",
    "no_alcohol",
    "no_alcohol_lifted",
    "tasted_elsewhere",
    "briefed",
    "void",
)
"""The kinds of marks that check-in records; every other kind is recorded where it happens."""


class NoAdult(EntryError):
    """No adult who is here has the number named for the adult of a guest under age."""

    status = 409
    message = N_("Number {number} is not an adult who is here today. Choose another number.")


class NoEarlierGuest(EntryError):
    """The number named for a guest who comes back is not that of a guest of an earlier tour today."""

    status = 409
    message = N_("No guest of another tour has number {number} today. Look at the band, and type its number.")


class PlaceTaken(EntryError):
    """A place whose guest has a number already cannot get that of an earlier tour."""

    status = 409
    message = N_("This guest has number {number} already. Use the earlier number before any other press.")


class NumberUsed(EntryError):
    """A number under which something was poured, or asked for, cannot be taken back."""

    status = 409
    message = N_("A pour was served or asked for under number {number}: it stays with its guest.")


class DidNotCome(EntryError):
    """People who are recorded as a no-show get no numbers: their places may be those of others by now."""

    status = 409
    message = N_(
        "This booking is recorded as a no-show. Open it under “Change booking”, press “They came after all”, "
        "then check them in."
    )


def mark_place(
    session: Session, site: Site, entry: MarkEntry, booking_id: int, place: int, now: datetime
) -> Answer:
    """Record a mark about the guest at a place of a booking, who gets the next number where they have none.

    The session is a write transaction. Raises NoSuchRow, DidNotCome, and what `mark_guest` raises.
    """
    _demand_check_in_mark(entry)
    assert entry.tour_id is not None
    guest_id = _number_at(session, site, entry.tour_id, booking_id, place, now)
    return mark_guest(session, site, replace(entry, guest_id=guest_id), now)


def mark_guest(session: Session, site: Site, entry: MarkEntry, now: datetime) -> Answer:
    """Record a mark about a guest of a tour at check-in, by the rules of every mark.

    Raises Malformed for a kind that check-in does not record and for a kind of ID that is on no list,
    NoAdult, and what recording a mark raises.
    """
    _demand_check_in_mark(entry)
    if entry.kind == "under_age" and entry.detail is not None:
        _demand_adult(session, site, entry, now)
    return record_entry(session, site, GUEST_MARKS, entry, now)


def _demand_check_in_mark(entry: MarkEntry) -> None:
    if entry.kind not in CHECK_IN_MARKS:
        raise Malformed(part="kind")
    if entry.kind == "id_check" and entry.detail not in (None, *ID_KINDS):
        raise Malformed(part="detail")


def _demand_adult(session: Session, site: Site, entry: MarkEntry, now: datetime) -> None:
    """Refuse an accompanying adult who is under age, has left, or has no number of this service day."""
    assert entry.detail is not None
    number = int(entry.detail) if entry.detail.isdigit() and len(entry.detail) <= 6 else 0
    wanted = guests.c.number == number, guests.c.day == site.service_day(now), guests.c.tour_id.is_not(None)
    adult = session.scalar(select(guests.c.id).where(*wanted, guests.c.id != entry.guest_id))
    marked = marks_by_guest(session, [adult])[adult] if adult else []
    if adult is None or guest_gone(marked) or guest_state(marked) is ServiceState.UNDER_AGE:
        raise NoAdult(number=entry.detail[:6])


def brief_all(session: Session, tour_id: int, origin: EntryOrigin, now: datetime) -> int:
    """Record closed shoes and safety words for each guest of a tour who is here without that mark.

    Returns how many marks were recorded. The session is a write transaction.
    """
    everyone = session.scalars(
        select(guests.c.id).where(guests.c.tour_id == tour_id).order_by(guests.c.id)
    ).all()
    marked = marks_by_guest(session, everyone)
    waiting = [
        one
        for one in everyone
        if not guest_gone(marked[one])
        and "briefed" not in {mark.kind for mark in standing_marks(marked[one])}
    ]
    record_briefings(session, tour_id, waiting, origin, now)
    return len(waiting)


def bring_back_guest(
    session: Session,
    site: Site,
    tour_id: int,
    booking_id: int,
    place: int,
    number: int,
    *,
    by: int,
    now: datetime,
) -> int:
    """Seat a guest of an earlier tour of this day at a place of another, and return the guest's id.

    The number goes on with its count, its ID check and its allergens. The session is a write transaction.
    Raises NoEarlierGuest, PlaceTaken, DidNotCome, and NoSuchRow for a place that is not booked.
    """
    day = site.service_day(now)
    _lock_tours_of_day(session, site, now)
    booking = _coming(session, tour_id, booking_id)
    seated = _at_place(session, booking_id, place)
    if seated is not None and seated.number == number:
        return int(seated.id)
    if seated is not None:
        raise PlaceTaken(number=seated.number)
    _demand_place(session, booking, place)
    wanted = select(guests.c.id).where(
        guests.c.day == day, guests.c.number == number, guests.c.tour_id != tour_id
    )
    guest_id = session.scalar(wanted)
    if guest_id is None:
        raise NoEarlierGuest(number=number)
    revision = lock_guest(session, guest_id)["revision"]
    values = {"tour_id": tour_id, "booking_id": booking_id, "place": place}
    rows.change(session, guests, guest_id, revision, values, by=by, at=now, why="returned")
    return int(guest_id)


def take_back_number(
    session: Session, tour_id: int, booking_id: int, place: int, *, by: int, now: datetime
) -> None:
    """Take back a number that was given by mistake; nobody gets it again that day.

    Its place waits for its guest again, its marks stay on record. The session is a write transaction.
    Where the place has no number any more nothing changes. Raises GuestOfAnotherTour and NumberUsed.
    """
    seated = _at_place(session, booking_id, place)
    if seated is None:
        return
    guest = lock_guest(session, seated.id)
    if guest["tour_id"] != tour_id:
        raise GuestOfAnotherTour()
    ledgers_of_glasses = (pours.c.guest_id, pour_marks.c.guest_id, refusals.c.guest_id)
    if any(
        session.execute(select(one).where(one == seated.id).limit(1)).first() for one in ledgers_of_glasses
    ):
        raise NumberUsed(number=seated.number)
    nobody = {column.name: None for column in personal_columns(guests)}
    nobody |= {"tour_id": None, "booking_id": None, "place": None}
    given = (seated.id, guest["revision"], {**nobody, "purged_at": now})
    rows.change(session, guests, *given, by=by, at=now, why="number taken back")


LONGEST_NAME = 40


def describe_guest(
    session: Session,
    site: Site,
    tour_id: int,
    booking_id: int,
    place: int,
    values: Mapping[str, str],
    *,
    by: int,
    now: datetime,
) -> None:
    """Change `language` or `first_name` of the guest at a place, who gets a number where they have none.

    The session is a write transaction. Raises Malformed for a language that the site does not speak and
    for a name that is too long, GuestOfAnotherTour, and NoSuchRow.
    """
    if values.get("language", site.codes[0]) not in site.codes:
        raise Malformed(part="language")
    if len(values.get("first_name", "")) > LONGEST_NAME:
        raise Malformed(part="first_name")
    guest = lock_guest(session, _number_at(session, site, tour_id, booking_id, place, now))
    if guest["tour_id"] != tour_id:
        raise GuestOfAnotherTour()
    changed = {name: value or None for name, value in values.items() if (guest[name] or "") != value}
    if changed:
        rows.change(
            session, guests, guest["id"], guest["revision"], changed, by=by, at=now, why="told at the desk"
        )


def give_numbers(session: Session, site: Site, tour_id: int, booking_id: int, now: datetime) -> list[int]:
    """Give a guest number to each person of a booking who has none, and return the new numbers.

    Numbers are unique on the site for the service day. The session is a write transaction.
    Raises NoSuchRow for a booking that is not of this tour, or is cancelled, and DidNotCome. Repeated, it
    gives none.
    Each guest starts with the allergens that the booking named.
    """
    _lock_tours_of_day(session, site, now)
    booking = _coming(session, tour_id, booking_id)
    taken = session.scalars(select(guests.c.place).where(guests.c.booking_id == booking_id)).all()
    free = [place for place in range(1, booking.size + len(taken) + 1) if place not in taken]
    return _insert_guests(session, site, booking, free[: max(0, booking.size - len(taken))], now)


def _number_at(session: Session, site: Site, tour_id: int, booking_id: int, place: int, now: datetime) -> int:
    """Return the id of the guest at a place of a booking, with the next number where there is none yet."""
    seated = _at_place(session, booking_id, place)
    if seated is None:
        _lock_tours_of_day(session, site, now)
        booking = _coming(session, tour_id, booking_id)
        seated = _at_place(session, booking_id, place)
        if seated is None:
            _demand_place(session, booking, place)
            _insert_guests(session, site, booking, [place], now)
            seated = _at_place(session, booking_id, place)
            assert seated is not None
    return int(seated.id)


def _at_place(session: Session, booking_id: int, place: int) -> Row[int, int] | None:
    g = guests.c
    seated = select(g.id, g.number).where(g.booking_id == booking_id, g.place == place)
    return session.execute(seated).one_or_none()


def _coming(session: Session, tour_id: int, booking_id: int) -> Any:
    """Return a booking of a tour, neither canceled. Raises NoSuchRow, and DidNotCome for a no-show."""
    b = bookings.c
    coming = (
        select(b.id, b.tour_id, b.size, b.language, b.allergens, b.no_show_at)
        .join(tours, tours.c.id == b.tour_id)
        .where(b.id == booking_id, tours.c.id == tour_id)
        .where(b.cancelled_at.is_(None), tours.c.cancelled_at.is_(None))
    )
    booking = session.execute(coming).one_or_none()
    if booking is None:
        raise NoSuchRow(bookings.name, booking_id)
    if booking.no_show_at is not None:
        raise DidNotCome()
    return booking


def _demand_place(session: Session, booking: Any, place: int) -> None:
    """Refuse a place beyond what is booked. Raises NoSuchRow."""
    there = select(func.count()).select_from(guests).where(guests.c.booking_id == booking.id)
    taken = session.execute(there).scalar_one()
    if taken >= booking.size or not 1 <= place <= booking.size + taken:
        raise NoSuchRow(bookings.name, booking.id)


def _insert_guests(
    session: Session, site: Site, booking: Any, places: Collection[int], now: datetime
) -> list[int]:
    day = site.service_day(now)
    last = select(func.coalesce(func.max(guests.c.number), 0)).where(guests.c.day == day)
    first = session.execute(last).scalar_one() + 1
    same = {"booking_id": booking.id, "tour_id": booking.tour_id, "day": day, "language": booking.language}
    # Who of them it is may not be known: each is asked until staff know better.
    same |= {"allergens": booking.allergens or None, "link_no": 0}
    numbers = list(range(first, first + len(places)))
    numbered = zip(numbers, places, strict=True)
    rows.insert_many(
        session, guests, [{**same, "number": number, "place": place} for number, place in numbered]
    )
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
    "tasted_elsewhere": N_("Tasted elsewhere today"),
    "briefed": N_("Closed shoes and safety words"),
}


def mark_label(kind: str, state: ServiceState) -> str:
    """Return the message on the button that records a mark, for a guest in a state."""
    if kind == "id_check" and state is ServiceState.UNDER_AGE:
        return N_("ID checked by second person")
    return _MARK_LABELS[kind]


ID_NAMES: Mapping[str, str] = {
    "identity_card": N_("Identity card"),
    "driving_license": N_("Driving license"),
    "passport": N_("Passport"),
    "residence_permit": N_("Residence permit"),
    "military_id": N_("Military ID"),
    "other_id": N_("Another official ID"),
}
"""What each kind of ID is called."""
