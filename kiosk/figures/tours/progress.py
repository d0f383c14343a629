"""Where a group is by its steps, how late it is, and in which order it avoids a stop that it cannot enter.

A group's steps are what its guide recorded: it started, went on to the next stop, went back, counted heads,
left a closed stop, finished. Times are plain datetimes that are passed in.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from kiosk.figures.drinks import STARTS_AND_FINISHES
from kiosk.figures.tours.routes import Plan, Stop, Visit, lateness, stop_times, times_from, waves
from kiosk.figures.tours.timetable import clashes

STEP_KINDS = frozenset({*STARTS_AND_FINISHES, "next", "back", "count", "out"})
"""The kinds of steps: `next` names the stop that the group goes to, `out` the closed stop that it left,
and `back` takes the last `next` back."""
FORGOTTEN = timedelta(hours=4)
"""How long after its planned end a tour whose finish was never recorded still counts as on its walk."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a group: its kind (of STEP_KINDS), when, the stop that it names, and the heads counted."""

    kind: str
    at: datetime
    stop: str | None = None
    count: int | None = None


@dataclass(slots=True)
class Position:
    """Where a group is by its steps.

    `way` holds the stops that it went to, each with the time when it set off there, the present one last.
    `counted` and `counted_at` are the last head count, `out` is when it left a closed stop, by the stop.
    """

    started_at: datetime | None = None
    finished_at: datetime | None = None
    way: list[tuple[str, datetime]] = field(default_factory=list)
    counted: int | None = None
    counted_at: datetime | None = None
    out: dict[str, datetime] = field(default_factory=dict)

    @property
    def stop(self) -> str:
        """The slug of the present stop; "" before the start and after the end."""
        return self.way[-1][0] if self.way and self.finished_at is None else ""

    @property
    def visited(self) -> tuple[str, ...]:
        """The stops that the group left, in order."""
        done = self.way if self.finished_at else self.way[:-1]
        return tuple(slug for slug, _ in done)


def position(steps: Iterable[Step], first: str) -> Position:
    """Return where a group is by its `steps`; a start that names no stop leads to the stop `first`.

    Steps count in the order of their times. A second start or finish changes nothing.
    """
    here = Position()
    for step in sorted(steps, key=lambda one: one.at):
        if step.kind == "unstart":
            here = Position()
        elif step.kind == "unfinish":
            here.finished_at = None
        elif step.kind == "finish":
            here.finished_at = here.finished_at or step.at
        elif step.kind == "back":
            del here.way[max(1, len(here.way) - 1) :]
        elif step.kind == "out" and step.stop:
            here.out[step.stop] = step.at
        elif step.kind == "next" or (step.kind == "start" and here.started_at is None):
            here.started_at = here.started_at or step.at
            here.way.append((step.stop or first, step.at))
        if step.count is not None:
            here.counted, here.counted_at = step.count, step.at
    return here


@dataclass(frozen=True, slots=True)
class Progress:
    """A group on its way, at one moment.

    `left` are the stops still to come after the present one, in their order; `ahead` the expected visits,
    that of the present stop first once the group has started; `planned` those of the house's route at the
    tour's planned start; `minutes_late` is below 0 when the group is early, `minutes_left` at the present
    stop when it is over its time. `walking` says whether the group is still on the way to its stop,
    `people` how many there are by the last count, else by the day's records.
    """

    position: Position
    people: int
    left: tuple[Stop, ...]
    planned: tuple[Visit, ...]
    ahead: tuple[Visit, ...]
    minutes_late: float
    walking: bool = False
    minutes_left: float = 0.0

    @property
    def on_walk(self) -> bool:
        """Whether the group has started, has not finished, and was not forgotten."""
        return self.position.started_at is not None and bool(self.ahead)

    @property
    def here(self) -> Visit | None:
        """The visit of the present stop."""
        return self.ahead[0] if self.on_walk else None


def progress(
    house_route: Sequence[Stop],
    route: Sequence[Stop],
    starts_at: datetime,
    steps: Iterable[Step],
    now: datetime,
    people: int,
) -> Progress:
    """Return how far a group of `people` is at `now` that was to start at `starts_at`, by its `steps`.

    `house_route` is the house's, `route` the tour's own, which may be shorter or in another order. A group
    that has not started is expected to start now, or at `starts_at` if that is later; one whose planned end
    passed without a start, and one that has finished, have no visits ahead. Raises FigureError
    `out_of_range` for negative minutes or people.
    """
    at = position(steps, route[0].slug if route else "")
    people = people if at.counted is None else at.counted
    planned = stop_times(house_route, starts_at, people)
    left = tuple(stop for stop in route if stop.slug not in {slug for slug, _ in at.way})
    ends = planned[-1].leaves if planned else starts_at
    if at.finished_at or now > ends + (FORGOTTEN if at.started_at else timedelta(0)):
        return Progress(at, people, left, planned, (), 0.0)
    if at.started_at is None:
        ahead = stop_times(left, max(starts_at, now), people)
        return Progress(at, people, left, planned, ahead, _late(planned, ahead))
    slug, since = at.way[-1]
    known = {stop.slug: stop for stop in (*house_route, *route)}
    stop = known.get(slug, Stop(slug, 0.0))
    since = min(since, now)
    arrives = since + timedelta(minutes=stop.walk_minutes)
    walking = now < arrives
    rest = (stop, *left)
    ahead = stop_times(rest, since, people) if walking else times_from(rest, 0, arrives, now, people)
    minutes_left = waves(people, stop.holds) * stop.minutes - max(0.0, (now - arrives) / timedelta(minutes=1))
    return Progress(at, people, left, planned, ahead, _late(planned, ahead), walking, minutes_left)


def _late(planned: Sequence[Visit], ahead: Sequence[Visit]) -> float:
    return lateness(planned, ahead) if planned and ahead else 0.0


def detour(
    left: Sequence[Stop], shut: Collection[str], others: Sequence[Plan], leaves: datetime, people: int
) -> tuple[Stop, ...] | None:
    """Return `left` in an order whose first stop can be entered, the one that changes least; None without.

    `left` are the stops still to come. One of them is brought forward that is not among the closed ones,
    `shut`, that needs no stop before it which is still to come, and where the group of `people`, leaving
    its present stop at `leaves`, meets no group of `others`. An order without any later clash comes first.
    """
    orders = []
    for n in range(1, len(left)):
        stop, before = left[n], left[:n]
        if stop.slug in shut or not {one.slug for one in before}.isdisjoint(stop.after):
            continue
        order = (stop, *before, *left[n + 1 :])
        held = [clash.slug for clash in own_clashes(stop_times(order, leaves, people), others)]
        if stop.slug not in held:
            orders.append((len(held), n, order))
    return min(orders, key=lambda one: one[:2])[2] if orders else None


_OWN = "\0own"


def own_clashes(ahead: Sequence[Visit], others: Sequence[Plan]) -> list[Visit]:
    """Return the visits `ahead` of a group at which it and the `others` are more than the stop holds."""
    held = {clash.slug for clash in clashes([*others, Plan(_OWN, tuple(ahead))]) if _OWN in clash.groups}
    return [visit for visit in ahead if visit.slug in held]


def with_plan(route: Sequence[Stop], minutes: Sequence[tuple[str, float]]) -> tuple[Stop, ...]:
    """Return the stops of `route` that `minutes` names, in its order and with its minutes."""
    known = {stop.slug: stop for stop in route}
    return tuple(replace(known[slug], minutes=spent) for slug, spent in minutes if slug in known)
