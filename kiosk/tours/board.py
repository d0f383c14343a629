"""The tours of a day as a board: how far each is, what its guests need, and the one thing that is next.

What is next on the day of today, in this order:

1. the first tour that starts within the hour, or should have, and is not on its walk yet:
   its guests are checked in, then it starts;
2. else the tour on its walk, the one that started last: its walk, or its tasting once it is at its last
   stop or the person pours;
3. else the first tour that people are booked on.

A tour whose start was never recorded counts as on its walk once it is half an hour late.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import Row, Select, exists, func, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import Mark, ServiceState, guest_gone, guest_state
from kiosk.figures.tours.progress import Progress
from kiosk.site.settings import Site
from kiosk.store.tables.tours import bookings, guests, marks
from kiosk.tours.day import day_tours
from kiosk.tours.walk.house import LATE_MINUTES
from kiosk.tours.walk.progress import progress

SOON, LATE, LONGEST_WALK = timedelta(hours=1), timedelta(minutes=30), timedelta(hours=4)
TELLING = ("under_age", "no_alcohol", "service_stopped", "gone")
"""A guest without any of these marks is here, of age as far as is known, and may drink."""
SHORT_NOTE = 40
"""The most letters of a note that the board shows in words; longer ones are counted."""


class Stage(StrEnum):
    """How far a tour is; a tour of a day that has not come is `EXPECTED` or `EMPTY`."""

    CANCELED = "canceled"
    ENDED = "ended"
    ON_WALK = "on_walk"
    UNRECORDED = "unrecorded"  # it should have started, and nobody recorded that it did
    READY = "ready"  # all who are booked are checked in
    EXPECTED = "expected"
    EMPTY = "empty"  # no bookings


class Action(StrEnum):
    """What the button of a tour does."""

    CHECK_IN = "check_in"
    START = "start"
    WALK = "walk"
    TASTING = "tasting"
    BOOK = "book"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Needs:
    """What the guests of a tour need: allergens by code, people by state, requests and notes as written."""

    allergens: tuple[str, ...] = ()
    under_age: int = 0
    no_alcohol: int = 0
    stopped: int = 0
    access: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    allergy_notes: tuple[str, ...] = ()
    parties: tuple[tuple[str, int], ...] = ()  # the name and the size of each booking
    languages: tuple[tuple[str, int], ...] = ()  # people by their language, most first


NO_NEEDS = Needs()


@dataclass(frozen=True, slots=True)
class Place:
    """Where a group on its walk is: a stop's slug, and its number of how many on the house's route.

    `minutes_left` at the stop are below 0 when the group is over its time; `walking` is on the way there.
    """

    slug: str
    number: int
    of: int
    minutes_left: int
    walking: bool


@dataclass(frozen=True, slots=True)
class BoardRow:
    """A tour on the board; `minutes` are those until its start, less than 0 when it is late."""

    tour: Row[Any]
    stage: Stage
    action: Action
    minutes: int
    needs: Needs = NO_NEEDS
    minutes_late: int = 0  # on its walk, from `LATE_MINUTES` on
    at: Place | None = None  # on its walk, while the steps say where
    is_next: bool = False

    @property
    def missing(self) -> int:
        """How many of the booked people are not checked in yet."""
        return max(0, int(self.tour.booked) - int(self.tour.guests))

    @property
    def free(self) -> int:
        """How many seats are not booked."""
        return max(0, int(self.tour.places) - int(self.tour.booked))


def board(
    session: Session, site: Site, day: date, now: datetime, roles: Collection[str], *, with_needs: bool
) -> list[BoardRow]:
    """Return the tours of a service day in order of their start, for a person of these `roles`.

    It takes the same few queries however many tours there are.
    """
    tours = day_tours(session, site, day)
    is_today = day == site.service_day(now)
    needs = day_needs(session, [tour.id for tour in tours]) if with_needs and tours else {}
    stages = {tour.id: stage_of(tour, now) for tour in tours}
    walking = [tour for tour in tours if stages[tour.id] is Stage.ON_WALK]
    taken = progress(session, site, walking, now) if is_today and tours else {}
    rows = []
    for tour in tours:
        stage, far = stages[tour.id], taken.get(tour.id)
        at = place_of(far, site) if far else None
        action = action_of(tour, stage, roles, is_today=is_today, at=at)
        minutes = round((tour.starts_at - now) / timedelta(minutes=1))
        rows.append((tour, stage, action, minutes, needs.get(tour.id, NO_NEEDS), _minutes_late(far), at))
    following = next_tour([row[:3] for row in rows], now) if is_today else None
    return [BoardRow(*row, is_next=row[0].id == following) for row in rows]


def _minutes_late(taken: Progress | None) -> int:
    minutes = round(taken.minutes_late) if taken else 0
    return minutes if minutes >= LATE_MINUTES else 0


def place_of(far: Progress, site: Site) -> Place | None:
    """Return where a group is on the house's route; None before its walk, after it, and off the route."""
    slugs = [stop.slug for stop in site.route]
    slug = far.position.stop
    if not far.on_walk or slug not in slugs:
        return None
    return Place(slug, slugs.index(slug) + 1, len(slugs), round(far.minutes_left), far.walking)


def stage_of(tour: Any, now: datetime) -> Stage:
    """Return how far a tour is."""
    if tour.cancelled_at is not None:
        return Stage.CANCELED
    if tour.finished_at is not None:
        return Stage.ENDED
    if tour.started_at is not None:
        return Stage.ON_WALK
    if now - tour.starts_at > LATE:
        return Stage.UNRECORDED
    if not tour.booked:
        return Stage.EMPTY
    return Stage.READY if tour.guests >= tour.booked else Stage.EXPECTED


def action_of(
    tour: Any, stage: Stage, roles: Collection[str], *, is_today: bool, at: Place | None = None
) -> Action:
    """Return what the button of a tour does for a person of these `roles`; `at` is where its group walks."""
    marks, plans = {"guide", "bar", "manager"} & set(roles), {"guide", "manager"} & set(roles)
    to_come = stage in (Stage.READY, Stage.EXPECTED, Stage.EMPTY)
    if plans and to_come and tour.booked < tour.places and (stage is Stage.EMPTY or not is_today):
        return Action.BOOK
    if not marks or not is_today:
        return Action.OPEN
    if plans and at is not None and at.number < at.of:
        return Action.WALK
    if stage is Stage.ON_WALK or (stage is Stage.UNRECORDED and tour.guests):
        return Action.TASTING
    return {Stage.EXPECTED: Action.CHECK_IN, Stage.READY: Action.START}.get(stage, Action.OPEN)


def next_tour(rows: Sequence[tuple[Any, Stage, Action]], now: datetime) -> int | None:
    """Return the id of the tour whose button is next, by the rule of this module; None where none is."""
    to_come = [tour for tour, _, action in rows if action in (Action.CHECK_IN, Action.START)]
    walking = [tour for tour, _, action in rows if action in (Action.WALK, Action.TASTING)]
    walking = [tour for tour in walking if now - (tour.started_at or tour.starts_at) <= LONGEST_WALK]
    soon = [tour for tour in to_come if tour.starts_at - now <= SOON]
    walking.sort(key=lambda tour: tour.started_at or tour.starts_at, reverse=True)
    for tour in (*soon[:1], *walking[:1], *to_come[:1]):
        return int(tour.id)
    return None


@dataclass(frozen=True, slots=True)
class _Party:
    """A booking of a day: its guests who need or speak something else, and how many others are here."""

    booking: Row[Any]
    guests: Sequence[Row[Any]]
    others: int

    @property
    def numbered(self) -> int:
        """How many of its people have a number, those who left among them."""
        return int(self.booking.numbered)


def day_needs(session: Session, tour_ids: Collection[int]) -> Mapping[int, Needs]:
    """Return what the guests of some tours need, by the tour's id, in three queries.

    A booking's allergens count until its guests are checked in and have their own; guests who left do not
    count, nor bookings that did not come. Only guests who differ from their booking are read one by one.
    """
    b, g, m = bookings.c, guests.c, marks.c
    coming = (b.tour_id.in_(tour_ids), b.cancelled_at.is_(None), b.no_show_at.is_(None))
    numbered = select(func.count()).where(g.booking_id == b.id).correlate(bookings).scalar_subquery()
    columns = (b.id, b.tour_id, b.size, b.language, b.lead_name, b.ticket, numbered.label("numbered"))
    asked = (b.allergens, b.allergy_notes, b.access_needs, b.notes)
    query: Select[Any] = select(*columns, *asked).where(*coming)
    booked = session.execute(query.order_by(b.id)).all()
    marked = exists().where(m.guest_id == g.id, m.kind.in_(TELLING))
    differs = or_(g.language != b.language, g.allergens.is_not(None), g.access_needs.is_not(None), marked)
    own = select(g.booking_id, g.id, g.language, g.allergens, g.access_needs, marked.label("marked"))
    own = own.join(bookings, b.id == g.booking_id).where(*coming, differs)
    people = session.execute(own.order_by(g.number)).all()
    of_booking: dict[int, list[Row[Any]]] = defaultdict(list)
    for guest in people:
        of_booking[guest.booking_id].append(guest)
    told = marks_by_guest(session, [guest.id for guest in people if guest.marked])
    of_tour: dict[int, list[_Party]] = defaultdict(list)
    for booking in booked:
        known = of_booking.get(booking.id, [])
        here = [guest for guest in known if not (guest.marked and guest_gone(told[guest.id]))]
        others = booking.numbered - len(known)
        if here or others or not booking.numbered:
            of_tour[booking.tour_id].append(_Party(booking, here, others))
    return {tour_id: _needs(parties, told) for tour_id, parties in of_tour.items()}


def _needs(parties: Sequence[_Party], told: Mapping[int, Sequence[Mark]]) -> Needs:
    booked = [party.booking for party in parties]
    here = [guest for party in parties for guest in party.guests]
    states = [guest_state(told[guest.id]) for guest in here if guest.marked]
    naming = [one for party in parties for one in (party.guests if party.numbered else [party.booking])]
    return Needs(
        tuple(dict.fromkeys(code for one in naming for code in one.allergens or ())),
        states.count(ServiceState.UNDER_AGE),
        states.count(ServiceState.NO_ALCOHOL),
        states.count(ServiceState.SERVICE_STOPPED),
        _written(one.access_needs for one in (*booked, *here)),
        _written(one.notes for one in booked),
        _written(one.allergy_notes for one in booked),
        tuple((one.lead_name or one.ticket or "", one.size) for one in booked),
        _languages(parties),
    )


def _languages(parties: Sequence[_Party]) -> tuple[tuple[str, int], ...]:
    """Return how many people speak each language; heads without a number speak that of their booking."""
    spoken = Counter(guest.language for party in parties for guest in party.guests)
    for party in parties:
        to_come = max(0, party.booking.size - party.numbered)
        spoken[party.booking.language] += party.others + to_come
    return tuple((code, n) for code, n in spoken.most_common() if n)


def _written(texts: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for text in texts if text))
