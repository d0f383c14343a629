"""The tours of a day as a board: how far each is, what its guests need, and the one thing that is next.

What is next on the day of today, in this order:

1. the first tour that starts within the hour, or should have, and is not on its walk yet:
   its guests are checked in, then it starts;
2. else the tour on its walk, the one that started last: its tasting;
3. else the first tour that people are booked on.

A tour whose start was never recorded counts as on its walk once it is half an hour late.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import Mark, ServiceState, guest_gone, guest_state
from kiosk.figures.tours.progress import Progress
from kiosk.site.settings import Site
from kiosk.store.tables.tours import bookings, guests
from kiosk.tours.day import day_tours
from kiosk.tours.walk.house import LATE_MINUTES
from kiosk.tours.walk.progress import progress

SOON, LATE, LONGEST_WALK = timedelta(hours=1), timedelta(minutes=30), timedelta(hours=4)
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
class BoardRow:
    """A tour on the board; `minutes` are those until its start, less than 0 when it is late."""

    tour: Row[Any]
    stage: Stage
    action: Action
    minutes: int
    needs: Needs = NO_NEEDS
    minutes_late: int = 0  # on its walk, from `LATE_MINUTES` on
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
    taken = progress(session, site, tours, now) if is_today and tours else {}
    rows = []
    for tour in tours:
        stage = stage_of(tour, now)
        action = action_of(tour, stage, roles, is_today=is_today)
        minutes = round((tour.starts_at - now) / timedelta(minutes=1))
        late = _minutes_late(taken.get(tour.id)) if stage is Stage.ON_WALK else 0
        rows.append((tour, stage, action, minutes, needs.get(tour.id, NO_NEEDS), late))
    following = next_tour([row[:3] for row in rows], now) if is_today else None
    return [BoardRow(*row, is_next=row[0].id == following) for row in rows]


def _minutes_late(taken: Progress | None) -> int:
    minutes = round(taken.minutes_late) if taken else 0
    return minutes if minutes >= LATE_MINUTES else 0


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


def action_of(tour: Any, stage: Stage, roles: Collection[str], *, is_today: bool) -> Action:
    """Return what the button of a tour does for a person of these `roles`."""
    marks, plans = {"guide", "bar", "manager"} & set(roles), {"guide", "manager"} & set(roles)
    to_come = stage in (Stage.READY, Stage.EXPECTED, Stage.EMPTY)
    if plans and to_come and tour.booked < tour.places and (stage is Stage.EMPTY or not is_today):
        return Action.BOOK
    if not marks or not is_today:
        return Action.OPEN
    on_walk = stage is Stage.ON_WALK or (stage is Stage.UNRECORDED and tour.guests)
    if on_walk:
        return Action.TASTING
    return {Stage.EXPECTED: Action.CHECK_IN, Stage.READY: Action.START}.get(stage, Action.OPEN)


def next_tour(rows: Sequence[tuple[Any, Stage, Action]], now: datetime) -> int | None:
    """Return the id of the tour whose button is next, by the rule of this module; None where none is."""
    to_come = [tour for tour, _, action in rows if action in (Action.CHECK_IN, Action.START)]
    walking = [tour for tour, _, action in rows if action is Action.TASTING]
    walking = [tour for tour in walking if now - (tour.started_at or tour.starts_at) <= LONGEST_WALK]
    soon = [tour for tour in to_come if tour.starts_at - now <= SOON]
    walking.sort(key=lambda tour: tour.started_at or tour.starts_at, reverse=True)
    for tour in (*soon[:1], *walking[:1], *to_come[:1]):
        return int(tour.id)
    return None


def day_needs(session: Session, tour_ids: Collection[int]) -> Mapping[int, Needs]:
    """Return what the guests of some tours need, by the tour's id, in two queries.

    A booking's allergens count until its guests are checked in and have their own; guests who left do not
    count, nor bookings that did not come.
    """
    b, g = bookings.c, guests.c
    people = session.execute(
        select(b.tour_id, b.id, b.allergens, b.access_needs, b.notes)
        .add_columns(b.lead_name, b.ticket, b.size, b.language, b.allergy_notes)
        .add_columns(g.id.label("guest"), g.allergens.label("own"), g.access_needs.label("own_needs"))
        .add_columns(g.language.label("own_language"))
        .outerjoin_from(bookings, guests, g.booking_id == b.id)
        .where(b.tour_id.in_(tour_ids), b.cancelled_at.is_(None), b.no_show_at.is_(None))
        .order_by(b.id, g.number)
    ).all()
    marks = marks_by_guest(session, [row.guest for row in people if row.guest])
    of_tour: dict[int, list[Row[Any]]] = defaultdict(list)
    left: Counter[int] = Counter()
    for row in people:
        if not row.guest or not guest_gone(marks[row.guest]):
            of_tour[row.tour_id].append(row)
        else:
            left[row.id] += 1
    return {tour_id: _needs(rows, marks, left) for tour_id, rows in of_tour.items()}


def _needs(rows: Sequence[Row[Any]], marks: Mapping[int, Sequence[Mark]], left: Mapping[int, int]) -> Needs:
    parties = {row.id: row for row in rows}
    states = [guest_state(marks[row.guest]) for row in rows if row.guest]
    named = [code for row in rows for code in (row.own if row.guest else row.allergens) or ()]
    return Needs(
        tuple(dict.fromkeys(named)),
        states.count(ServiceState.UNDER_AGE),
        states.count(ServiceState.NO_ALCOHOL),
        states.count(ServiceState.SERVICE_STOPPED),
        _written([row.access_needs for row in rows] + [row.own_needs for row in rows]),
        _written(row.notes for row in rows),
        _written(row.allergy_notes for row in rows),
        tuple((one.lead_name or one.ticket or "", one.size) for one in parties.values()),
        _languages(rows, parties.values(), left),
    )


def _languages(
    rows: Sequence[Row[Any]], parties: Iterable[Row[Any]], left: Mapping[int, int]
) -> tuple[tuple[str, int], ...]:
    """Return how many people speak each language; heads without a number speak that of their booking."""
    spoken = Counter(row.own_language for row in rows if row.guest)
    numbered = Counter(row.id for row in rows if row.guest)
    for party in parties:
        spoken[party.language] += max(0, party.size - numbered[party.id] - left.get(party.id, 0))
    return tuple((code, n) for code, n in spoken.most_common() if n)


def _written(texts: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for text in texts if text))
