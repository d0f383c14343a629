"""A service day: its tours with bookings and guests, their live figures, and what a guide can say of it.

The talking points are the figures that changed most since yesterday. Yesterday's figures are not
stored: they are read again as of the end of yesterday from the same records. A correction
therefore corrects both days.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Row, ScalarSelect, Select, and_, exists, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, CachedQuery, Figure, FigureReader, Provider, Spec, State, Unit
from kiosk.figures.tours.routes import Visit
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader, StatedFigure
from kiosk.site.settings import Site
from kiosk.store import audit
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import bookings, guests, steps, tours
from kiosk.tours.walk.progress import progress
from kiosk.words.figures import figure_text

TOO_LONG = timedelta(days=3)
"""How long the daily run may be missing before staff are warned: names stay too long, backups age."""


def day_tours(session: Session, site: Site, day: date) -> Sequence[Row[Any]]:
    """Return the tours that start within a service day, in order of their start: rows like `one_tour`'s."""
    return tours_between(session, *site.day_bounds(day))


def tours_between(session: Session, since: datetime, until: datetime) -> Sequence[Row[Any]]:
    """Return the tours that start from `since` to before `until`, in order: rows like `one_tour`'s."""
    within = _tours().where(tours.c.starts_at >= since, tours.c.starts_at < until)
    return session.execute(within.order_by(tours.c.starts_at, tours.c.letter)).all()


def tours_of_series(session: Session, series: str, since: datetime) -> Sequence[Row[Any]]:
    """Return the tours of a pattern that start at `since` or later, in order: rows like `one_tour`'s."""
    of_series = _tours().where(tours.c.series == series, tours.c.starts_at >= since)
    return session.execute(of_series.order_by(tours.c.starts_at)).all()


def unattended_days(session: Session, now: datetime) -> int:
    """Return the whole days since the last daily run where they are at least `TOO_LONG`, else 0."""
    alone = audit.unattended(session, now)
    return alone.days if alone is not None and alone >= TOO_LONG else 0


def one_tour(session: Session, tour_id: int) -> Row[Any]:
    """Return a tour's row by its id, with the name of its `guide` and the number of its `bookings`.

    `booked` people are expected, `guests` of them have a guest number; `started_at` and `finished_at`
    are None until then. Raises NoSuchRow for an unknown id.
    """
    row = session.execute(_tours().where(tours.c.id == tour_id)).one_or_none()
    if row is None:
        raise NoSuchRow(tours.name, tour_id)
    return row


def _tours() -> Select[Any]:
    # Counted tour by tour through the indices: what was long ago costs a day nothing.
    t, b = tours.c, bookings.c
    coming = and_(b.tour_id == t.id, b.cancelled_at.is_(None), b.no_show_at.is_(None))
    numbered = (
        select(func.count())
        .select_from(guests)
        .join(bookings, bookings.c.id == guests.c.booking_id)
        .where(guests.c.tour_id == t.id, bookings.c.cancelled_at.is_(None))
        .correlate(tours)
    )
    parties = select(func.count()).select_from(bookings).where(coming).correlate(tours)
    people = select(func.coalesce(func.sum(bookings.c.size), 0)).where(coming).correlate(tours)
    counts = (parties.label("bookings"), people.label("booked"), numbered.label("guests"))
    started, finished = _step("start", "unstart"), _step("finish", "unstart", "unfinish")
    taken = (started.label("started_at"), finished.label("finished_at"))
    return select(tours, staff.c.name.label("guide"), *counts, *taken).outerjoin_from(
        tours, staff, staff.c.id == t.guide_id
    )


def _step(kind: str, *taken_back: str) -> ScalarSelect[Any]:
    """Return the time of the first step of a kind after which there is none that takes it back."""
    s, later = steps.c, steps.alias("later_steps")
    undone = exists().where(later.c.tour_id == s.tour_id, later.c.kind.in_(taken_back), later.c.at >= s.at)
    of_kind = select(func.min(s.at)).where(s.tour_id == tours.c.id, s.kind == kind, ~undone)
    return of_kind.correlate(tours).scalar_subquery()


def _on_walk(session: Session, site: Site, now: datetime) -> Sequence[tuple[str, float]]:
    """Return the letter of each group that walks at `now`, and its place on the route.

    A group is where its steps say, or where its plan says while its start is not recorded. Stops count
    from 0; a group on the way is a half further than the stop that it left.
    """
    tours = day_tours(session, site, site.service_day(now))
    taken = progress(session, site, tours, now)
    slugs = [stop.slug for stop in site.route]
    walking = []
    for tour in tours:
        far = taken.get(tour.id)
        if far is not None and far.on_walk and far.position.stop in slugs:
            walking.append((tour.letter, slugs.index(far.position.stop) - 0.5 * far.walking))
        elif far is not None and not far.position.way and tour.starts_at <= now:
            walking += _by_plan(tour.letter, far.planned, now)
    return [(letter, max(place, 0.0)) for letter, place in walking]


def _by_plan(letter: str, planned: Sequence[Visit], now: datetime) -> list[tuple[str, float]]:
    if not planned or now >= planned[-1].leaves:
        return []
    at = sum(visit.arrives <= now for visit in planned) - 1
    return [(letter, at if at < 0 or now < planned[at].leaves else at + 0.5)]


_ON_WALK = CachedQuery(frozenset({"tours", "steps"}), 60, _on_walk)


def groups_on_walk(figures: FigureReader) -> Sequence[tuple[str, float]]:
    """Return the letter of each group that walks now, and its place on the route."""
    return figures.cached(_ON_WALK)


GUESTS_TODAY = Spec("guests_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)
TOURS_TODAY = Spec("tours_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)


def _counted(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the tours of this service day and the guests with a number of it, without cancelled ones."""
    day = site.service_day(now)
    start, end = site.day_bounds(day)
    walks = select(func.count()).where(
        tours.c.starts_at >= start, tours.c.starts_at < end, tours.c.cancelled_at.is_(None)
    )
    numbered = (
        select(func.count())
        .select_from(guests)
        .join(tours, tours.c.id == guests.c.tour_id)
        .join(bookings, bookings.c.id == guests.c.booking_id)
        .where(guests.c.day == day, tours.c.cancelled_at.is_(None), bookings.c.cancelled_at.is_(None))
    )
    counts = {GUESTS_TODAY: numbered, TOURS_TODAY: walks}
    return {
        (spec.name, ""): Figure(session.execute(count).scalar_one(), now, Basis.COUNTED)
        for spec, count in counts.items()
    }


PROVIDERS = (Provider((GUESTS_TODAY, TOURS_TODAY), frozenset({"guests", "tours"}), 60, _counted),)


LINES = 5


@dataclass(frozen=True, slots=True)
class Line:
    """A figure with its unit and a spoken sentence with rounded numbers.

    `before` is yesterday's amount ("": none), `as_of` its time.
    """

    name: str
    value: str
    unit: str
    sentence: str
    before: str
    as_of: str
    change: float  # a share of the larger of the two amounts; infinite where there was nothing


def this_morning(content: Content, reader: PageReader, day_begins: datetime, most: int = LINES) -> list[Line]:
    """Return the figures that changed most since the service day before, or are new.

    Each stop has its first line before any has its second, so that a run of the still
    does not fill them all. Only what is fresh now is news. `day_begins` is when this
    service day did. For the page of the day, and for any sheet of it.
    """
    earlier = PageReader(
        reader.words,
        reader.units,
        reader.figures.as_of(day_begins - timedelta(seconds=1)),
        reader.facts,
        day_begins,
    )
    ranked = [
        (place, line)
        for stop in content.stops.values()
        for place, line in enumerate(_ranked(stop.figures, reader, earlier))
    ]
    ranked.sort(key=lambda one: (one[0], -one[1].change))
    return [line for _, line in ranked[:most]]


def _ranked(names: Iterable[str], reader: PageReader, earlier: PageReader) -> list[Line]:
    return sorted(_news(names, reader, earlier), key=lambda one: -one.change)


def _news(names: Iterable[str], reader: PageReader, earlier: PageReader) -> Iterator[Line]:
    for name in names:
        spec = reader.figures.specs[name]
        if not spec.public or spec.of:
            continue
        stated, was = reader.stated(name), earlier.figures.get(name)
        if stated.text.state is not State.FRESH or not stated.figure.value:
            continue
        if not was.value:
            yield _line(stated, "", math.inf)
        elif not spec.daily and (before := _amount(was, spec, earlier)) != stated.text.amount:
            yield _line(stated, before, _change(stated.figure.value, was.value))


def _amount(figure: Figure, spec: Spec, reader: PageReader) -> str:
    return figure_text(figure, spec, reader.now, reader.words, reader.units).amount


def _change(now: float, then: float) -> float:
    return abs(now - then) / max(abs(now), abs(then))


def _line(stated: StatedFigure, before: str, change: float) -> Line:
    text = stated.text
    return Line(stated.name, text.value, text.unit, text.spoken, before, text.as_of, change)


_LONGEST_TOUR = timedelta(hours=12)


def angels_bottles_since(figures: FigureReader, start: datetime, now: datetime) -> float | None:
    """Return how many bottles the casks are expected to have lost since a tour's `start`.

    The bottle is that of the figure `angels_bottle_every`. None while that figure is
    not known, before the start, and when the tour is long over.
    """
    hours_a_bottle = figures.get("angels_bottle_every").value
    if not hours_a_bottle or not timedelta(0) <= now - start <= _LONGEST_TOUR:
        return None
    return (now - start) / timedelta(hours=1) / hours_a_bottle
