"""The set-up list of a service day: what each tour needs for its tasting and its walk, and the sums.

Who takes no alcohol is known only of guests who are checked in; until then everyone counts as a taster.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.service.bottles import OpenBottles
from kiosk.figures.tours.closures import Closure
from kiosk.site.content.stops import Stop
from kiosk.site.settings import Recipe, Site, WelcomeDrink
from kiosk.staff.people import members
from kiosk.store import ledgers
from kiosk.store.tables.tours import flight_items, set_up_ticks
from kiosk.tours.board import NO_NEEDS, Needs, day_needs
from kiosk.tours.day import day_tours
from kiosk.tours.walk.closures import closed_stops

WELCOME = 0
"""The position of the welcome drink in a flight."""

BOTTLE_ML = 750
"""The size of a bottle of which none is open: that of most bottles in the Americas (from memory)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to set out: its kind, how many, and of what; `code` names it in the ledger of ticks."""

    code: str
    kind: str
    amount: int
    of: str = ""  # a language, product, room or stops, by their codes, or allergens by theirs
    left_ml: int = 0  # in open bottles
    needed_ml: int = 0


@dataclass(frozen=True, slots=True)
class TourSetUp:
    """What one tour needs."""

    tour: Row[Any]
    needs: Needs
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class SetUp:
    """The list of a day: its tours, their sums, who serves, what is closed, and the codes that are ticked."""

    day: date
    tours: tuple[TourSetUp, ...]
    sums: tuple[Line, ...]
    servers: tuple[str, ...]
    closed: Mapping[str, Closure] = field(default_factory=dict)
    done: frozenset[str] = frozenset()

    @property
    def codes(self) -> frozenset[str]:
        """The codes of every line."""
        return frozenset(
            line.code for line in (*self.sums, *(one for tour in self.tours for one in tour.lines))
        )


def set_up(
    session: Session,
    site: Site,
    stops: Mapping[str, Stop],
    day: date,
    now: datetime,
    levels: Mapping[tuple[str, str], OpenBottles],
    *,
    with_needs: bool,
) -> SetUp:
    """Return the set-up list of a service day; the queries are as many for sixty tours as for one.

    `levels` is what is left in open bottles, by room and product.
    """
    planned = [tour for tour in day_tours(session, site, day) if tour.cancelled_at is None and tour.booked]
    needs = day_needs(session, [tour.id for tour in planned]) if planned else {}
    flights = _flights(session, {tour.flight_id for tour in planned if tour.flight_id})
    worn = {thing: _stops_with(site, stops, thing) for thing in ("ears", "closed_shoes")}
    tours = [
        TourSetUp(
            tour,
            needs.get(tour.id, NO_NEEDS) if with_needs else NO_NEEDS,
            tuple(_lines(site, tour, needs.get(tour.id, NO_NEEDS), flights.get(tour.flight_id, ()), worn)),
        )
        for tour in planned
    ]
    poured = _poured(site, tours, needs, flights)
    return SetUp(
        day,
        tuple(tours),
        (*_sums(tours), *_bottles(poured, levels)),
        tuple(one.name for one in members(session, site, now) if "bar" in one.roles),
        closed_stops(session, now) if day == site.service_day(now) else {},
        _done(session, day),
    )


def tick(
    session: Session, listed: SetUp, code: str, *, done: bool, origin: EntryOrigin, now: datetime
) -> None:
    """Record that a line of a list is set out, or not any more. Raises Malformed for no line of it."""
    if code not in listed.codes:
        raise Malformed(part="line")
    values = {"day": listed.day, "line": code, "done": done}
    ledgers.append(session, set_up_ticks, {**origin.values(now, now), **values})


def _done(session: Session, day: date) -> frozenset[str]:
    t = set_up_ticks.c
    ticked = session.execute(select(t.line, t.done).where(t.day == day).order_by(t.at, t.recorded_at, t.key))
    latest = {row.line: row.done for row in ticked}
    return frozenset(line for line, done in latest.items() if done)


Sample = tuple[int, str, int | None]
"""A position of a flight, its product or recipe, and its volume in µL."""


def _flights(session: Session, ids: Iterable[int]) -> Mapping[int, Sequence[Sample]]:
    f = flight_items.c
    by_flight: dict[int, list[Sample]] = defaultdict(list)
    planned = select(f.flight_id, f.pos, f.product, f.volume_ul).where(f.flight_id.in_(list(ids)))
    for flight_id, *sample in session.execute(planned.order_by(f.flight_id, f.pos)):
        by_flight[flight_id].append((sample[0], sample[1], sample[2]))
    return by_flight


def _stops_with(site: Site, stops: Mapping[str, Stop], thing: str) -> str:
    """Return the slugs of the stops of the route at which everybody wears something, separated by blanks."""
    return " ".join(stop.slug for stop in site.route if thing in stops[stop.slug].protection)


def _lines(
    site: Site, tour: Any, needs: Needs, flight: Sequence[Sample], worn: Mapping[str, str]
) -> Iterable[Line]:
    people = int(tour.booked)
    samples = sum(1 for pos, *_ in flight if pos != WELCOME)

    def line(kind: str, amount: int, of: str = "") -> Line:
        return Line(f"{tour.id}:{kind}" + (f":{of}"[:40] if of else ""), kind, amount, of)

    if samples:
        yield line("glasses", people * samples)
    yield line("water", people)
    for language, n in needs.languages:
        yield line("mats", n, language)
    for kind, n in _welcome(site, flight, people, needs):
        yield line(kind, n)
    if without := needs.under_age + needs.no_alcohol:
        yield line("without_alcohol", without)
    for code in needs.allergens:
        yield line("allergen", 1, code)
    if worn["ears"]:
        yield line("ear_plugs", people + 1, worn["ears"])  # the guide's among them
    if worn["closed_shoes"]:
        yield line("closed_shoes", people, worn["closed_shoes"])
    yield line("stickers", people)


def _welcome(site: Site, flight: Sequence[Sample], people: int, needs: Needs) -> Iterable[tuple[str, int]]:
    """Return how many welcome drinks of each kind; all without alcohol where the house serves no other."""
    recipe = next((site.recipes.get(code) for pos, code, _ in flight if pos == WELCOME), None)
    if recipe is None:
        return
    free = site.welcomes_without_alcohol(recipe)
    without = people if free else min(people, needs.under_age + needs.no_alcohol)
    if people - without:
        yield "welcome", people - without
    if without:
        yield "welcome_free", without


def _poured(
    site: Site,
    tours: Sequence[TourSetUp],
    needs: Mapping[int, Needs],
    flights: Mapping[int, Sequence[Sample]],
) -> Mapping[tuple[str, str], int]:
    """Return the µL that leave bottles on a day, by room and product."""
    poured: dict[tuple[str, str], int] = defaultdict(int)
    for one in tours:
        own = needs.get(one.tour.id, NO_NEEDS)
        tasters = max(0, int(one.tour.booked) - own.under_age - own.no_alcohol)
        for pos, code, volume_ul in flights.get(one.tour.flight_id, ()):
            recipe = site.recipes.get(code)
            product, size_ul = _from_bottle(site, recipe, pos) if recipe else (code, volume_ul or 0)
            if product and size_ul:
                poured[one.tour.room, product] += tasters * size_ul
    return poured


def _from_bottle(site: Site, recipe: Recipe, pos: int) -> tuple[str | None, int]:
    """Return what a mixed glass takes from a bottle: nothing for a welcome that is served without alcohol."""
    if pos == WELCOME and site.welcome_drink is WelcomeDrink.ALCOHOL_FREE:
        return None, 0
    small = pos == WELCOME and site.welcome_drink is WelcomeDrink.SMALL
    return recipe.product, (recipe.small_ul if small else None) or recipe.volume_ul


def _sums(tours: Sequence[TourSetUp]) -> Iterable[Line]:
    """Return the lines of all tours summed by kind and by what they are of."""
    sums: Counter[tuple[str, str]] = Counter()
    for one in tours:
        for line in one.lines:
            if line.kind != "allergen":
                sums[line.kind, line.of] += line.amount
    return [
        Line(f"day:{kind}" + (f":{of}"[:40] if of else ""), kind, n, of) for (kind, of), n in sums.items()
    ]


def _bottles(
    poured: Mapping[tuple[str, str], int], levels: Mapping[tuple[str, str], OpenBottles]
) -> Iterable[Line]:
    """Return the bottles to open beside those that are open, by room and product."""
    for (room, product), needed_ul in sorted(poured.items()):
        known = levels.get((room, product), OpenBottles(0, BOTTLE_ML))
        lacking_ml = max(0.0, needed_ul / 1000 - known.left_ml)
        yield Line(
            f"day:bottles:{room}:{product}"[:60],
            "bottles",
            math.ceil(lacking_ml / known.size_ml),
            f"{room} {product}",
            round(known.left_ml),
            math.ceil(needed_ul / 1000),
        )
