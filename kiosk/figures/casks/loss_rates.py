"""How fast a store takes its share, and how much new wood drinks: from gauges, casks as clusters."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from kiosk.figures.casks.fills import Fill, Group, Measure
from kiosk.figures.casks.intervals import Interval, intervals
from kiosk.figures.errors import FigureError, Need
from kiosk.figures.numeric import Estimate, Row, regress, t_95


@dataclass(frozen=True, slots=True)
class LossRate:
    """A store's loss per year: what is there falls as exp(-per_year x years).

    `low` and `high` bound the store's mean rate (90 %). `between_casks` is the
    standard deviation from cask to cask, gauges' own errors in it. `casks` and
    `cask_years` are what the fit rests on. `soakage_in_it` says that what new
    wood drank could not be told apart from it.
    """

    per_year: float
    low: float
    high: float
    between_casks: float
    casks: int
    cask_years: float
    soakage_in_it: bool = False


@dataclass(frozen=True, slots=True)
class Soakage:
    """What wood drinks of a filling, beyond evaporation, in its first interval.

    `log` is -ln of what it leaves (so that `share` = 1 - exp(-log), 0 to 1, of what
    was put in); `half_log` is the 90 % half-width of `log`, `between_casks` its
    standard deviation from cask to cask, gauges' own errors in it.
    """

    log: float
    half_log: float
    between_casks: float
    casks: int

    @property
    def share(self) -> float:
        """Return the share of what was put in that the wood drank."""
        return -math.expm1(-self.log)

    @property
    def low(self) -> float:
        """Return the lower bound of `share` (90 %)."""
        return -math.expm1(self.half_log - self.log)

    @property
    def high(self) -> float:
        """Return the upper bound of `share` (90 %)."""
        return -math.expm1(-self.half_log - self.log)


Rates = Mapping[str, LossRate]
"""Loss rates by store; a store with too few gauges is absent."""

Soakages = Mapping[Group, Soakage]
"""Soakage by wood and fill number; a group with too few gauges is absent."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What gauges say of evaporation by store and of soakage by wood and fill number."""

    rates: Rates
    soakages: Soakages


STEPS = 25
"""More rounds than the solving of draws across a move was ever seen to need (8)."""


def fit_losses(fills: Iterable[Fill], at: datetime, measure: Measure = Measure.ALCOHOL) -> Fit:
    """Fit loss rates per store and soakage per wood and fill number, each cask one witness.

    `fills` may lie anywhere; `measure` says whether pure alcohol or bulk volume
    is followed; gauges up to `at` count. Each interval between two gauges of a
    fill gives -ln(A2 / A1) = sum of k T over the stores it lay in, plus s where it
    is the first one and wood and fill number are known; draws and toppings are
    allowed for: A2 = A1 e^(-s - K) - sum D_j e^(-K_j) + sum B_j e^(-K_j), solved
    for K. An interval's weight is 1 / (T (u1² + u2² + p²)): its gauges'
    uncertainties and the spread p² that they do not explain, T being 1 with s.
    With equal gauges in one store this is k = sum of logarithms / sum of years.
    The variance takes casks as clusters; the interval is 90 % by Student's t.
    Left out: an interval with an unmeasured draw or leak, gauged empty, or in a
    store that fewer than two casks tell of. Soakage is told apart only where two casks or more show
    it and every store concerned has two casks with later intervals.
    Source: weighted ratio estimate, variance by clusters (W. G. Cochran, Sampling
    Techniques; K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13; from memory).
    """
    found = [one for n, fill in enumerate(fills) for one in intervals(fill, fill.cask or n, at, measure)]
    while True:
        kept, groups, mixed = _usable(found)
        names: list[str | Group] = [*sorted({store for one in kept for store in one.times}), *sorted(groups)]
        estimates, unknown = _solve(kept, names, groups)
        if unknown is None:
            return _fit(names, estimates, kept, mixed)
        lost = names[unknown]  # nothing tells it apart from the others
        found = [one for one in kept if lost not in one.times and one.group != lost]


def _usable(found: list[Interval]) -> tuple[list[Interval], set[Group], set[str]]:
    """Return intervals to fit, groups whose soakage is fitted, and stores where it is not told apart."""
    kept = _told(found)
    groups, later = _groups(kept), _later_casks(kept)
    # Where later intervals suffice, a first one that cannot be split tells nothing of evaporation.
    kept = _told(
        [
            one
            for one in kept
            if one.group is None or one.group in groups or any(later.get(store, 0) < 2 for store in one.times)
        ]
    )
    groups &= _groups(kept)
    unsplit = [one for one in kept if one.group is not None and one.group not in groups]
    return kept, groups, {store for one in unsplit for store in one.times}


def _told(found: list[Interval]) -> list[Interval]:
    """Return the intervals that lay only in stores of which two casks or more tell."""
    while True:
        casks: dict[str, set[str | int]] = {}
        for one in found:
            for store in one.times:
                casks.setdefault(store, set()).add(one.cask)
        few = {store for store, seen in casks.items() if len(seen) < 2}
        if not few:
            return found
        found = [one for one in found if few.isdisjoint(one.times)]


def _later_casks(kept: Iterable[Interval]) -> dict[str, int]:
    casks: dict[str, set[str | int]] = {}
    for one in kept:
        if one.group is None:
            for store in one.times:
                casks.setdefault(store, set()).add(one.cask)
    return {store: len(seen) for store, seen in casks.items()}


def _groups(kept: Sequence[Interval]) -> set[Group]:
    """Return the groups whose soakage can be told apart from evaporation."""
    later = _later_casks(kept)
    casks: dict[Group, set[str | int]] = {}
    stores: dict[Group, set[str]] = {}
    for one in kept:
        if one.group is not None:
            casks.setdefault(one.group, set()).add(one.cask)
            stores.setdefault(one.group, set()).update(one.times)
    return {
        group
        for group, seen in casks.items()
        if len(seen) >= 2 and all(later.get(store, 0) >= 2 for store in stores[group])
    }


def _solve(
    kept: Sequence[Interval], names: Sequence[str | Group], groups: Collection[Group]
) -> tuple[list[Estimate], int | None]:
    place = {name: n for n, name in enumerate(names)}
    rates: dict[str, float] = {}
    soaked: dict[Group, float] = {}
    rows: list[Row] = []
    for one in kept:
        terms = [(place[store], time) for store, time in one.times.items()]
        length = one.total_years()
        if one.group is not None and one.group in groups:
            terms.append((place[one.group], 1.0))
            length = 1.0  # what wood drinks varies as much over two days as over a year
        rows.append(Row(one.cask, tuple(terms), one.log_loss({}, 0.0), length, one.variance))
    # Only draws across a move, or after soakage, ask for what is being sought.
    turning = [n for n, one in enumerate(kept) if one.flows and len(rows[n].terms) > 1]
    before: list[float] = []
    for _ in range(STEPS):
        estimates, unknown = regress(rows, len(names))
        now = [estimate.value for estimate in estimates]
        if unknown is not None or not turning or (before and _near(now, before)):
            return estimates, unknown
        before = now
        for name, value in zip(names, now, strict=True):
            if isinstance(name, str):
                rates[name] = value
            else:
                soaked[name] = value
        for n in turning:
            group = kept[n].group
            s = soaked.get(group, 0.0) if group else 0.0
            rows[n] = rows[n].with_loss(kept[n].log_loss(rates, s))
    return estimates, unknown


def _near(now: Sequence[float], before: Sequence[float]) -> bool:
    return all(abs(a - b) < 1e-11 for a, b in zip(now, before, strict=True))


def _fit(
    names: Sequence[str | Group], estimates: Sequence[Estimate], kept: Sequence[Interval], mixed: set[str]
) -> Fit:
    time: dict[str, float] = {}
    for one in kept:
        for store, each in one.times.items():
            time[store] = time.get(store, 0.0) + each
    rates: dict[str, LossRate] = {}
    soakages: dict[Group, Soakage] = {}
    for name, found in zip(names, estimates, strict=True):
        half = t_95(found.clusters - 1) * found.error
        between = found.error * math.sqrt(found.clusters)
        if isinstance(name, str):
            k, n = found.value, found.clusters
            rates[name] = LossRate(k, k - half, k + half, between, n, time[name], name in mixed)
        else:
            soakages[name] = Soakage(found.value, half, between, found.clusters)
    return Fit(rates, soakages)


def loss_rate(
    fills: Iterable[Fill], store: str, at: datetime, measure: Measure = Measure.ALCOHOL
) -> LossRate:
    """Return the loss rate of a `store`, from gauges up to `at`, each cask one witness.

    `fills` may lie anywhere; `measure` says whether pure alcohol or bulk volume is followed.
    How it is fitted, and the source, are those of `fit_losses`. Raises FigureError
    `too_few` below two casks with two gauges each that tell of this store.
    """
    asked = list(fills)
    found = fit_losses(asked, at, measure).rates.get(store)
    if found is None:
        telling = [
            one for n, fill in enumerate(asked) for one in intervals(fill, fill.cask or n, at, measure)
        ]
        casks = len({one.cask for one in telling if store in one.times})
        raise FigureError("gauges", casks, Need.TWO_CASKS_GAUGED_TWICE, "too_few")
    return found


def loss_rates(
    fills: Iterable[Fill], at: datetime, measure: Measure = Measure.ALCOHOL
) -> dict[str, LossRate]:
    """Return the loss rate of every store that has enough gauges for one, by store.

    `fills`, `at`, `measure` and the source are those of `fit_losses`; a store
    with too few gauges is left out.
    """
    return dict(fit_losses(fills, at, measure).rates)


def soakages(fills: Iterable[Fill], at: datetime, measure: Measure = Measure.ALCOHOL) -> dict[Group, Soakage]:
    """Return what wood drinks in a first interval, by wood and fill number, pooled over casks and stores.

    `fills`, `at`, `measure` and the source are those of `fit_losses`; a group
    that cannot be told apart from evaporation is left out.
    """
    return dict(fit_losses(fills, at, measure).soakages)
