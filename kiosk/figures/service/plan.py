"""The plan of a flight before the day: whether it fits the rules, and the changes that make it fit.

A plan calls `decide` for every glass in turn, at the time when the last guest of
the group gets it, so that it never allows more than the decision at the table. The
welcome drink is counted first.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from math import ceil

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.service.allowance import decide
from kiosk.figures.service.policy import Guest, Kind, Offer, Room, Server, ServicePolicy, ServiceState
from kiosk.figures.service.servings import Served
from kiosk.figures.service.standard_drinks import ETHANOL_PER_ML, StandardDrink, ethanol

MOST_SAMPLES = 12
"""The most samples of a flight."""

WELCOME = 0
"""The position of the welcome drink; samples count from 1."""

SECONDS_A_POUR = 8.0
"""The seconds that a server takes for one glass: common practice."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One glass of a flight. `sugar_g_per_l` None counts as dry; `bottle_ul` is the size of its bottle.

    `fixed` glasses are served as their recipe says: no other size is tried for them.
    """

    offer: Offer
    sugar_g_per_l: float | None = None
    bottle_ul: int = 750_000
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Sitting:
    """The time and place of a group's tasting, and its pace: `talk_minutes` are for each sample.

    `preset` glasses are pre-poured together and all served at the start
    without a pause between them; else each counts as empty before the next
    is served. `welcome_at` is when the welcome drink is served, by default as if it were
    the first sample. The tour's times are those planned, and `ticket` is the kind
    that the guests hold. Raises FigureError without a server.
    """

    room: Room
    starts_at: datetime
    servers: int = 1
    seconds_a_pour: float = SECONDS_A_POUR
    talk_minutes: float = 0.0
    preset: bool = False
    tour_started_at: datetime | None = None
    tour_ended_at: datetime | None = None
    welcome_at: datetime | None = None
    ticket: str = ""

    def __post_init__(self) -> None:
        if self.servers < 1:
            raise FigureError("servers", self.servers, Bounds(1))

    def round(self, guests: int) -> timedelta:
        """Return the time in which one sample reaches every guest; zero when all are preset."""
        return timedelta(seconds=0 if self.preset else guests * self.seconds_a_pour / self.servers)

    def step(self, guests: int, gap: timedelta) -> timedelta:
        """Return the time between two samples of the same guest."""
        if self.preset:
            return timedelta(0)
        return max(gap, self.round(guests)) + timedelta(minutes=self.talk_minutes)


@dataclass(frozen=True, slots=True)
class Turn:
    """A place in a flight where a lighter sample follows the one at `position`."""

    position: int
    from_: str  # "stronger" or "sweeter"


@dataclass(frozen=True, slots=True)
class Plan:
    """The result of planning a flight. Positions count from 1; 0 is the welcome drink.

    `refusals` are the reasons at each position that would be refused, empty when all
    fits. `drinks` is exact, for welcome and flight together. `largest_ul` is the
    largest equal pour with which all would fit, in µL, limits of kind `sizes` ignored;
    `measure_ul` the largest of the site's measures that fits, None where none is
    small enough. `leave_out` are the fewest samples, the latest of them first, that
    must go for the rest to fit as planned; `leave_out_at_smallest` the same with every
    sample in the site's smallest measure, where no measure makes all fit. `bottles`
    are the number that a group needs, by product, and `to_open` those to
    open beside the open ones. `last_pour_at` is when the last guest
    gets the last sample, None where no time is planned.
    """

    refusals: Mapping[int, tuple[str, ...]]
    ethanol: int
    drinks: Fraction
    largest_ul: int
    measure_ul: int | None
    leave_out: tuple[int, ...]
    leave_out_at_smallest: tuple[int, ...]
    bottles: Mapping[str, int]
    to_open: Mapping[str, int]
    turns: tuple[Turn, ...]
    last_pour_at: datetime | None

    @property
    def fits(self) -> bool:
        """Whether everything would be granted."""
        return not self.refusals


def plan(
    flight: Sequence[Sample],
    policy: ServicePolicy,
    *,
    drink: StandardDrink,
    measures_ul: Iterable[int] = (),
    welcome: Sample | None = None,
    sitting: Sitting | None = None,
    guests: int = 1,
    open_ul: Mapping[str, int] | None = None,
) -> Plan:
    """Return the plan of a flight: whether it fits a `policy`, what would make it fit, and its bottles.

    `flight` are 1 to 12 samples in their order; `drink` is the country's standard
    drink; `measures_ul` are the site's measures; `welcome` is counted first. `sitting`
    gives times and place; without one, hours, rooms and the tour are not judged.
    `guests` is the size of the group; `open_ul` is what open bottles still hold, in µL by
    product. Guests are taken to be of age and to have been
    served nothing else. Raises FigureError for an empty or too long flight and for fewer than
    1 guest.
    """
    if not 1 <= len(flight) <= MOST_SAMPLES:
        raise FigureError("flight", len(flight), Bounds(1, MOST_SAMPLES))
    if guests < 1:
        raise FigureError("guests", guests, Bounds(1))
    table = _table(policy, welcome, sitting, guests)
    refusals = table.refusals(flight)
    measures = sorted({m for m in measures_ul if m > 0}, reverse=True)
    measure = next((m for m in measures if not table.refusals(_poured(flight, m))), None)
    smallest = _poured(flight, measures[-1]) if measures and measure is None else None
    everything = [welcome, *flight] if welcome else list(flight)
    needed = _needed_ul(everything, guests)
    total = sum(ethanol(one.offer.volume_ul, one.offer.abv_e2) for one in everything)
    return Plan(
        refusals=refusals,
        ethanol=total,
        drinks=Fraction(total, ETHANOL_PER_ML) / drink.ethanol_ml,
        largest_ul=_largest(table, flight),
        measure_ul=measure,
        leave_out=table.leave_out(flight),
        leave_out_at_smallest=table.leave_out(smallest) if smallest else (),
        bottles=_bottles(everything, needed),
        to_open=_bottles(everything, {p: max(0, ul - (open_ul or {}).get(p, 0)) for p, ul in needed.items()}),
        turns=tuple(_turns(flight)),
        last_pour_at=table.glasses(list(enumerate(flight, 1)), last=True)[-1][1] if sitting else None,
    )


Numbered = tuple[int, Sample]
Some = tuple[Numbered, ...]
Refusals = Mapping[int, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class _Table:
    """Any guest of the group, from the first served to the last."""

    policy: ServicePolicy
    welcome: Sample | None
    sitting: Sitting
    guests: int
    guest: Guest
    gap: timedelta

    def refusals(self, flight: Sequence[Sample]) -> dict[int, tuple[str, ...]]:
        """Return the reasons at each position that is refused; a refused glass does not count."""
        return self._refused(list(enumerate(flight, 1)))

    def leave_out(self, flight: Sequence[Sample]) -> tuple[int, ...]:
        """Return the fewest positions to leave out for the rest to fit, the latest ones first."""
        numbered = list(enumerate(flight, 1))
        refused = self._refused([])  # the welcome drink by itself
        stay = {position for position, _ in self._longest(numbered, (), (), refused)}
        return (*refused, *(n for n, _ in numbered if n not in stay))

    def _longest(self, numbered: Sequence[Numbered], chosen: Some, best: Some, refused: Refusals) -> Some:
        """Return the longest choice of samples that fits, the earliest of equal ones; `best` so far.

        Branches are pruned once a sample is refused: no later glass makes it fit.
        """
        best = chosen if len(chosen) > len(best) else best
        for n, one in enumerate(numbered):
            if len(chosen) + len(numbered) - n <= len(best):
                break
            some = (*chosen, one)
            if self._refused(some) == refused:
                best = self._longest(numbered[n + 1 :], some, best, refused)
        return best

    def _refused(self, numbered: Sequence[tuple[int, Sample]]) -> dict[int, tuple[str, ...]]:
        """Return the refusals for the first guest and the last: one may be too early, the other too late."""
        last = self._refusals_of(numbered, last=True)
        if not self.sitting.round(self.guests):
            return last  # all guests are served at once
        first = self._refusals_of(numbered, last=False)
        places = sorted(first | last)
        return {n: tuple(dict.fromkeys((*first.get(n, ()), *last.get(n, ())))) for n in places}

    def _refusals_of(
        self, numbered: Sequence[tuple[int, Sample]], *, last: bool
    ) -> dict[int, tuple[str, ...]]:
        served: list[Served] = []
        refused: dict[int, tuple[str, ...]] = {}
        for position, at, offer in self.glasses(numbered, last=last):
            reasons = decide(self.policy, self.guest, served, Server(), self.sitting.room, at, offer).reasons
            if reasons:
                refused[position] = reasons
            else:
                served.append(_served(position, at, offer, preset=self.sitting.preset))
        return refused

    def glasses(
        self, numbered: Sequence[tuple[int, Sample]], *, last: bool
    ) -> list[tuple[int, datetime, Offer]]:
        """Return position, time and offer of every glass of the first guest, or of the last."""
        sitting = self.sitting
        # In UTC: local time is ambiguous when the clocks change.
        begins = sitting.starts_at.astimezone(UTC) + (sitting.round(self.guests) if last else timedelta(0))
        step = sitting.step(self.guests, self.gap)
        row = [(position, sample.offer) for position, sample in numbered]
        if self.welcome and sitting.welcome_at is None:
            row.insert(0, (WELCOME, self.welcome.offer))
        glasses = [(position, begins + n * step, offer) for n, (position, offer) in enumerate(row)]
        if self.welcome and sitting.welcome_at is not None:
            glasses.insert(0, (WELCOME, sitting.welcome_at, self.welcome.offer))
        return glasses


def _table(policy: ServicePolicy, welcome: Sample | None, sitting: Sitting | None, guests: int) -> _Table:
    if sitting is None:  # a noon of a day on which every rule of time, place and tour is met
        noon = datetime(2000, 1, 1, 12, tzinfo=UTC)
        room = Room("", noon, noon + timedelta(days=30), UTC)
        sitting = Sitting(room, noon, seconds_a_pour=0.0)
        limits = tuple(replace(limit, tour="") for limit in policy.limits)
        policy = replace(policy, hours=(), rooms=(), limits=limits)
    guest = Guest(
        ServiceState.MAY_BE_SERVED,
        visit=1,
        tour_started_at=sitting.tour_started_at,
        tour_ended_at=sitting.tour_ended_at,
        ticket=sitting.ticket,
    )
    seconds = max((limit.most for limit in policy.limits if limit.kind is Kind.GAP), default=0)
    return _Table(policy, welcome, sitting, guests, guest, timedelta(seconds=seconds))


def _served(position: int, at: datetime, offer: Offer, *, preset: bool) -> Served:
    what = (offer.product, offer.volume_ul, offer.abv_e2, offer.neat)
    done_at = None if preset else at
    return Served(f"{position:032x}", at, 0, 1, *what, done_at, preset=preset)


def _poured(flight: Sequence[Sample], volume_ul: int) -> list[Sample]:
    """Return the flight with every sample poured to one size; alcohol-free fits in any."""
    return [
        one if one.fixed else replace(one, offer=replace(one.offer, volume_ul=volume_ul)) for one in flight
    ]


def _largest(table: _Table, flight: Sequence[Sample]) -> int:
    """Return the largest equal pour that fits, by bisection: more spirit never fits where less does not."""
    limits = tuple(limit for limit in table.policy.limits if limit.kind is not Kind.SIZES)
    free_of_sizes = replace(table, policy=replace(table.policy, limits=limits))
    fits, fails = 0, max(one.bottle_ul for one in flight) + 1
    while fails - fits > 1:
        middle = (fits + fails) // 2
        if free_of_sizes.refusals(_poured(flight, middle)):
            fails = middle
        else:
            fits = middle
    return fits


def _needed_ul(everything: Iterable[Sample], guests: int) -> dict[str, int]:
    """Return the µL of each product that a group needs from bottles."""
    needed: dict[str, int] = {}
    for one in everything:
        if one.offer.volume_ul:
            product = one.offer.product
            needed[product] = needed.get(product, 0) + one.offer.volume_ul * guests
    return needed


def _bottles(everything: Iterable[Sample], needed_ul: Mapping[str, int]) -> dict[str, int]:
    """Return the number of whole bottles that hold `needed_ul` of each product."""
    size_ul = {one.offer.product: one.bottle_ul for one in everything}
    return {product: ceil(Fraction(ul, size_ul[product])) for product, ul in needed_ul.items()}


def _turns(flight: Sequence[Sample]) -> Iterable[Turn]:
    """Yield each place where a lighter sample follows. Weaker but sweeter is not lighter: common practice."""
    strong = [(n, one) for n, one in enumerate(flight, 1) if not one.offer.free]
    for (position, one), (_, after) in pairwise(strong):
        sweeter = (one.sugar_g_per_l or 0.0) - (after.sugar_g_per_l or 0.0)
        if sweeter > 0:
            yield Turn(position, "sweeter")
        elif one.offer.abv_e2 > after.offer.abv_e2 and sweeter == 0:
            yield Turn(position, "stronger")
