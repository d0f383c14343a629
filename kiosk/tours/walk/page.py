"""A group's walk as its guide sees it: this stop and its plan, the next and what is in its way, lost time."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Any

from markupsafe import Markup
from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.figures.tours.closures import Closure
from kiosk.figures.tours.progress import Progress, detour
from kiosk.figures.tours.routes import NO_LIMIT, Plan, Stop, Visit, split
from kiosk.figures.tours.timetable import Clash, clashes
from kiosk.site.content.loading import Content
from kiosk.site.settings import Site
from kiosk.tours.day import day_tours, one_tour
from kiosk.tours.planning.tours import TourCanceled
from kiosk.tours.regrouping.shortening import MarkedWay, marked_ways
from kiosk.tours.route import site_route
from kiosk.tours.walk.closures import closed_stops
from kiosk.tours.walk.house import is_out, late_minutes
from kiosk.tours.walk.progress import house_route, people, progress

MOST_WAYS_SHOWN = 3
"""The most ways to make up a delay that a phone shows, those that change least."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """A stop that a group comes to: when, in which turns, and what stands in the way.

    `turns` are the sizes of the turns in which the group sees the stop, one where all fit. `closure` is
    why it is closed, `clash` the other groups that are there then.
    """

    stop: Stop
    place: int  # on the house's route, the first is 1
    visit: Visit
    turns: tuple[int, ...]
    closure: Closure | None
    clash: Clash | None

    @property
    def is_free(self) -> bool:
        """Whether the group can enter when it comes."""
        return self.closure is None and self.clash is None


@dataclass(frozen=True, slots=True)
class Walk:
    """A group's walk now.

    `here` is its present stop, None before the start and after the end, and `next` the stop after it.
    `leave` is the closure of the present stop that the group has not answered. `instead` is the stop to go
    to first where the next one is closed or held, None where there is no such stop. `ways` make up
    the delay of a late group, and `meets` are the later stops at which it meets other groups.
    """

    tour: Row[Any]
    progress: Progress
    here: Ahead | None
    next: Ahead | None
    leave: Closure | None
    instead: Ahead | None
    ways: tuple[MarkedWay, ...]
    meets: tuple[Clash, ...]

    @property
    def skipped_to(self) -> Stop | None:
        """The stop after the next one, where the next one is closed and no other can come first."""
        blocked = self.next is not None and self.next.closure and self.instead is None
        return self.progress.left[1] if blocked and len(self.progress.left) > 1 else None

    @property
    def is_last(self) -> bool:
        """Whether the tour can only finish: no stop is left that can be entered."""
        return self.next is None or bool(
            self.next.closure and self.instead is None and len(self.progress.left) < 2
        )

    @property
    def share_gone(self) -> float:
        """The share of the time at the present stop that is gone, from 0 to 1; 0 on the way there."""
        visit = self.here.visit if self.here else None
        minutes = (visit.leaves - visit.arrives) / timedelta(minutes=1) if visit else 0
        return min(1.0, max(0.0, 1 - self.progress.minutes_left / minutes)) if minutes else 0.0

    @property
    def late(self) -> int:
        """The whole minutes by which the group is late, 0 for a few."""
        return late_minutes(self.progress)


def walk(session: Session, site: Site, content: Content, tour_id: int, now: datetime) -> Walk:
    """Return a group's walk, in four queries however many tours the day has.

    Raises NoSuchRow, and TourCanceled.
    """
    tour = one_tour(session, tour_id)
    others = [one for one in day_tours(session, site, site.service_day(now)) if one.id != tour_id]
    far = progress(session, site, [tour, *others], now)
    if tour.id not in far:
        raise TourCanceled()
    own = far[tour.id]
    plans = [Plan(one.letter, far[one.id].ahead) for one in others if one.id in far and far[one.id].ahead]
    seen = _Around(site, own, plans, closed_stops(session, now), tour.letter)
    visits = own.ahead[1:] if own.on_walk else own.ahead
    left = with_limits(site, content, own.left)
    late = late_minutes(own)
    ahead = [seen.ahead(visit) for visit in visits[:1]]
    here = seen.ahead(own.here) if own.here and own.position.stop in seen.places else None
    following = ahead[0] if ahead else None
    closure = seen.closed.get(own.position.stop) if own.on_walk else None
    return Walk(
        tour,
        own,
        here,
        following,
        closure if closure and not is_out(own, closure) else None,
        seen.instead(left, following),
        tuple(marked_ways(left, late, people(tour))[:MOST_WAYS_SHOWN] if late and own.on_walk else ()),
        tuple(clash for clash in seen.own if clash.slug not in {one.stop.slug for one in ahead}),
    )


class _Around:
    """The house around a group: the timetables of the others, and the stops that are closed."""

    def __init__(
        self, site: Site, own: Progress, plans: Sequence[Plan], closed: Mapping[str, Closure], letter: str
    ) -> None:
        self.closed, self._own_progress, self._plans = closed, own, plans
        self.places = {stop.slug: n for n, stop in enumerate(site.route, 1)}
        self._stops = {stop.slug: stop for stop in house_route(site)}
        met = clashes([*plans, Plan(letter, own.ahead)])
        self.own = [clash for clash in met if letter in clash.groups]

    def ahead(self, visit: Visit) -> Ahead:
        """Return what a group comes to by one of its visits."""
        stop, people = self._stops[visit.slug], self._own_progress.people
        fits = stop.holds == NO_LIMIT or people <= stop.holds
        turns = (people,) if fits else split(people, stop.holds)
        clash = next((one for one in self.own if one.slug == visit.slug), None)
        place = self.places[visit.slug]
        return Ahead(stop, place, visit, turns, self.closed.get(visit.slug), clash)

    def instead(self, left: Sequence[Stop], following: Ahead | None) -> Ahead | None:
        """Return the stop to go to first where the next one cannot be entered."""
        if following is None or following.is_free or not self._own_progress.on_walk:
            return None
        leaves, people = self._own_progress.ahead[0].leaves, self._own_progress.people
        order = detour(left, self.closed, self._plans, leaves, people)
        if order is None:
            return None
        return replace(self.ahead(replace(following.visit, slug=order[0].slug)), clash=None)


def with_limits(site: Site, content: Content, left: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return stops that are left as they may be shortened and left out, by their settings."""
    known = {stop.slug: stop for stop in site_route(site, content.stops)}
    return tuple(replace(known[stop.slug], minutes=stop.minutes) for stop in left if stop.slug in known)


MINUTES: Mapping[str, Mapping[str, float]] = {
    "en": {"half a minute": 0.5, "one minute": 1, "one and a half minutes": 1.5, "two minutes": 2}
    | {"three minutes": 3, "four minutes": 4, "five minutes": 5, "six minutes": 6, "eight minutes": 8},
    "es": {"medio minuto": 0.5, "un minuto": 1, "minuto y medio": 1.5, "dos minutos": 2}
    | {"tres minutos": 3, "cuatro minutos": 4, "cinco minutos": 5, "seis minutos": 6, "ocho minutos": 8},
}
"""The times of the steps as the plan of a stop writes them, which holds no digits, by language."""

_STEP = re.compile(r"<li>\s*(?:<p>)?<strong>(?P<lead>[^<]+?)\.?</strong>(?P<text>.*?)</li>", re.DOTALL)


@dataclass(frozen=True, slots=True)
class PlanStep:
    """A step of a stop's plan: its name, its minutes where the plan gives them, and what the guide does."""

    name: str
    minutes: float | None
    text: Markup


def plan_steps(plan: Markup, language: str) -> list[PlanStep]:
    """Return the steps of the plan of a stop, as its guide page in a language lists them."""
    steps = []
    for step in _STEP.finditer(str(plan)):
        name, _, time = step["lead"].rpartition(",")
        minutes = MINUTES.get(language, {}).get(time.strip())
        steps.append(PlanStep(name or step["lead"], minutes, Markup(step["text"].strip())))
    return steps


def step_now(steps: Sequence[PlanStep], minutes: float, share_gone: float) -> int:
    """Return which of some steps it is time for once a share of the stop's time is gone; the first is 0.

    Steps without a time of their own share what the others leave of the stop's `minutes`.
    """
    known = sum(step.minutes or 0 for step in steps)
    untimed = [step for step in steps if step.minutes is None]
    rest = max(0.0, minutes - known) / len(untimed) if untimed else 0.0
    ends = list(accumulate(rest if step.minutes is None else step.minutes for step in steps))
    return sum(end <= share_gone * ends[-1] for end in ends[:-1]) if ends else 0
