"""Regrouping of people: a booking moved to another tour, a tour split in two, two tours merged into one.

Guests keep their numbers, marks and pours; those whose guests are checked in stay on their service day.
Tours are locked in the order of their ids, so that two regroupings never wait for each other.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.entries.errors import EntryError
from kiosk.figures.tours.timetable import Stop
from kiosk.site.settings import Site
from kiosk.store import ledgers, rows
from kiosk.store.tables.tours import bookings, guests, steps, tours
from kiosk.tours.calendar.days import service_day
from kiosk.tours.day import day_tours
from kiosk.tours.planning.bookings import PrivateTour, find_booking, takes_places
from kiosk.tours.planning.effects import Effects, reckon, samples_of, walk_of, walks_of
from kiosk.tours.planning.tours import (
    MERGED,
    MOST_PLACES,
    NO_PLACES,
    TourDraft,
    TourFaults,
    TourStarted,
    add_tour,
    lock_planned_tour,
    people_booked,
    record_canceled,
    tour_steps,
)
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault

NO_BOOKING = N_("Tick the bookings that go with the new group; at least one stays.")
OTHER_START = N_("“{typed}” is not a time of this day. Enter day and time, like {example}.")


class NoPlace(EntryError):
    """The tour to which people would go has too few free places."""

    status = 409
    message = N_("Tour {letter} has {free} free places; {size} are needed.")


class OtherDay(EntryError):
    """Guests who are checked in have a number of their day."""

    status = 409
    message = N_("Guests of this booking are checked in: it stays on its day.")


class SameTour(EntryError):
    """A tour cannot be merged with itself, nor a booking moved to where it is."""

    status = 409
    message = N_("This is the same tour. Choose another one.")


def move_booking(
    session: Session,
    site: Site,
    booking_id: int,
    source: int,
    target: int,
    revision: int,
    *,
    by: int,
    at: datetime,
) -> None:
    """Move a booking with its guests to another tour that has the places.

    Raises NoSuchRow, TourCanceled, SameTour, NoPlace, OtherDay, PrivateTour and Stale.
    """
    if source == target:
        raise SameTour()
    locked = _lock(session, source, target)
    booking = find_booking(session, source, booking_id)
    _require_free(session, locked[target], [booking] if takes_places(booking) else [])
    _move(session, site, [booking], {booking.id: revision}, locked[target], by=by, at=at)


def split_tour(
    session: Session,
    site: Site,
    tour_id: int,
    revision: int,
    booking_ids: Collection[int],
    draft: TourDraft,
    *,
    by: int,
    at: datetime,
) -> int:
    """Make a new tour of some bookings of a tour and return its id.

    The new tour takes the stops and the steps of the old one. The places of both add up to those before,
    or are more where people are booked. Raises TourFaults, NoSuchRow, TourCanceled and Stale.
    """
    tour = lock_planned_tour(session, tour_id)
    every = open_bookings(session, tour_id)
    going = [one for one in every if one.id in booking_ids]
    _check_split(site, tour, every, going, draft)
    new_id = add_tour(session, site, draft, by=by, at=at, plan=tour.plan)
    assert draft.places is not None
    _copy_steps(session, tour_id, new_id)
    staying = sum(one.size for one in every if one not in going and takes_places(one))
    left = {"places": max(tour.places - draft.places, staying, 1)}
    rows.change(session, tours, tour_id, revision, left, by=by, at=at, why="split")
    target = lock_planned_tour(session, new_id)
    _move(session, site, going, {one.id: one.revision for one in going}, target, by=by, at=at)
    return new_id


def merge_tours(
    session: Session, site: Site, source: int, target: int, revision: int, *, by: int, at: datetime
) -> None:
    """Move every booking of a tour to another one of its day, which gets the places, and cancel the first.

    Raises NoSuchRow, TourCanceled, TourStarted, SameTour, OtherDay, NoPlace, PrivateTour and Stale.
    """
    if source == target:
        raise SameTour()
    locked = _lock(session, source, target)
    if tour_steps(session, source):
        raise TourStarted()
    if site.service_day(locked[source].starts_at) != site.service_day(locked[target].starts_at):
        raise OtherDay()
    if locked[source].private or locked[target].private:
        raise PrivateTour()
    every = open_bookings(session, source)
    needed = people_booked(session, target) + sum(one.size for one in every if takes_places(one))
    if needed > MOST_PLACES:
        free = MOST_PLACES - people_booked(session, target)
        raise NoPlace(letter=locked[target].letter, free=free, size=needed - MOST_PLACES + free)
    if needed > locked[target].places:
        wider = {"places": needed}
        rows.change(session, tours, target, locked[target].revision, wider, by=by, at=at, why="merged")
    _move(session, site, every, {one.id: one.revision for one in every}, locked[target], by=by, at=at)
    record_canceled(session, source, revision, MERGED, by=by, at=at)


def merge_offers(
    session: Session, site: Site, route: Sequence[Stop], tour: Row[Any], now: datetime
) -> list[tuple[Row[Any], Effects]]:
    """Return the tours of its day into which a tour can be merged, and what each does with all its people."""
    day = site.service_day(tour.starts_at)
    rows_of_day = [
        one
        for one in day_tours(session, site, day)
        if one.id != tour.id and one.cancelled_at is None and one.finished_at is None
    ]
    known = service_day(session, site, day)
    samples = samples_of(session, [one.flight_id for one in rows_of_day])
    walks = walks_of(session, site, route, rows_of_day, now)
    offers = []
    for row in rows_of_day:
        walk = walks.get(row.id) or walk_of(row, route)
        together = replace(walk, people=max(walk.people, tour.booked + row.booked))
        others = [other.plan for other in walks.values() if other is not walk]
        samples_here = samples.get(row.flight_id or 0, 0)
        offers.append((row, reckon(site, together, others, known, samples_here)))
    return offers


def open_bookings(session: Session, tour_id: int) -> Sequence[Row[Any]]:
    """Return the bookings of a tour that are not canceled, in order."""
    b = bookings.c
    query = select(bookings).where(b.tour_id == tour_id, b.cancelled_at.is_(None))
    return session.execute(query.order_by(b.id)).all()


def _lock(session: Session, *tour_ids: int) -> dict[int, Row[Any]]:
    return {tour_id: lock_planned_tour(session, tour_id) for tour_id in sorted(tour_ids)}


def _require_free(session: Session, target: Row[Any], coming: Collection[Row[Any]]) -> None:
    booked, size = people_booked(session, target.id), sum(one.size for one in coming)
    if target.private and booked:
        raise PrivateTour()
    if booked + size > target.places:
        raise NoPlace(letter=target.letter, free=max(0, target.places - booked), size=size)


def _move(
    session: Session,
    site: Site,
    coming: Collection[Row[Any]],
    revisions: dict[int, int],
    target: Row[Any],
    *,
    by: int,
    at: datetime,
) -> None:
    g = guests.c
    ids = [one.id for one in coming]
    people = session.execute(
        select(g.id, g.revision, g.day).where(g.booking_id.in_(ids)).order_by(g.id)
    ).all()
    if any(one.day != site.service_day(target.starts_at) for one in people):
        raise OtherDay()
    there: dict[str, Any] = {"tour_id": target.id}
    who: dict[str, Any] = {"by": by, "at": at, "why": "moved"}
    for one in coming:
        rows.change(session, bookings, one.id, revisions[one.id], there, **who)
    for guest in people:
        rows.change(session, guests, guest.id, guest.revision, there, **who)


def _copy_steps(session: Session, source: int, target: int) -> None:
    """Record the steps of a tour for the group that goes on as another; a head count was of them all."""
    taken = session.execute(select(steps).where(steps.c.tour_id == source).order_by(steps.c.at))
    for step in taken.mappings().all():
        if step["kind"] != "count":
            own = {"key": ledgers.new_key(), "tour_id": target, "count": None}
            ledgers.append(session, steps, {**step, **own})


def _check_split(
    site: Site, tour: Row[Any], every: Sequence[Row[Any]], going: Sequence[Row[Any]], draft: TourDraft
) -> None:
    faults: dict[str, Fault] = {}
    if not going or len(going) == len(every):
        faults["bookings"] = (NO_BOOKING, {})
    if draft.starts_at and site.service_day(draft.starts_at) != site.service_day(tour.starts_at):
        example = f"{site.local(tour.starts_at):%Y-%m-%dT%H:%M}"
        faults["starts_at"] = (OTHER_START, {"typed": draft.typed.get("starts_at", ""), "example": example})
    least = sum(one.size for one in going if takes_places(one))
    if draft.places is not None and draft.places < least:
        facts = {"typed": draft.typed.get("places", ""), "least": least, "most": MOST_PLACES}
        faults["places"] = (NO_PLACES, facts)
    if faults:
        raise TourFaults(faults)
