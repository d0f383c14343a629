"""Loss rates of stores and soakage of new wood, fitted on the gauges of many casks."""

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
    """The loss rate of a store: the content falls as exp(-per_year x years).

    `low` and `high` bound the store's mean rate (90 %). `between_casks` is the
    standard deviation from cask to cask, the gauges' errors included. `casks` and
    `cask_years` were used in the fit. `soakage_in_it` is True where the soakage of new
    wood could not be separated from it.
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
    """The soakage of a filling: the spirit that wood takes up in its first interval.

    `log` is -ln of the share that it leaves (so that `share` = 1 - exp(-log), 0 to 1, of what
    was put in); `half_log` is the 90 % half-width of `log`, `between_casks` its
    standard deviation from cask to cask, the gauges' errors included.
    """

    log: float
    half_log: float
    between_casks: float
    casks: int

    @property
    def share(self) -> float:
        """The share of the filling that the wood took up, 0 to 1."""
        return -math.expm1(-self.log)

    @property
    def low(self) -> float:
        """The lower bound of `share` (90 %)."""
        return -math.expm1(self.half_log - self.log)

    @property
    def high(self) -> float:
        """The upper bound of `share` (90 %)."""
        return -math.expm1(-self.half_log - self.log)


Rates = Mapping[str, LossRate]
"""Loss rates by store; a store with too few gauges is absent."""

Soakages = Mapping[Group, Soakage]
"""Soakage by wood and fill number; a group with too few gauges is absent."""


@dataclass(frozen=True, slots=True)
class Fit:
    """The fitted loss rates by store and soakages by wood and fill number."""

    rates: Rates
    soakages: Soakages


STEPS = 25
"""The most rounds of solving draws across a move; 8 were enough in every test."""


def fit_losses(fills: Iterable[Fill], at: datetime, measure: Measure = Measure.ALCOHOL) -> Fit:
    """Return loss rates by store and soakages by wood and fill number, fitted with casks as clusters.

    `fills` may lie in any stores; `measure` says whether pure alcohol or bulk volume
    is followed; gauges up to `at` are used. Each interval between two gauges of a
    fill gives -ln(A2 / A1) = sum of k T over the stores it lay in, plus s where it
    is the first one and wood and fill number are known; draws and toppings are
    included: A2 = A1 e^(-s - K) - sum D_j e^(-K_j) + sum B_j e^(-K_j), solved
    for K. An interval's weight is 1 / (T (u1² + u2² + p²)): its gauges'
    uncertainties and the spread p² that they do not explain, T being 1 with s.
    With equal gauges in one store this is k = sum of logarithms / sum of years.
    The variance takes casks as clusters; the interval is 90 % by Student's t.
    Left out: an interval with an unmeasured draw or leak, gauged empty, or in a
    store with fewer than two casks. Soakage is separated only where two casks or more
    have it and every store concerned has two casks with later intervals.
    Source: weighted ratio estimate, variance by clusters (W. G. Cochran, Sampling
    Techniques; K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13; from memory).
    """
    candidates = [one for n, fill in enumerate(fills) for one in intervals(fill, fill.cask or n, at, measure)]
    while True:
        kept, groups, mixed = _usable(candidates)
        names: list[str | Group] = [*sorted({store for one in kept for store in one.times}), *sorted(groups)]
        estimates, unknown = _solve(kept, names, groups)
        if unknown is None:
            return _fit(names, estimates, kept, mixed)
        lost = names[unknown]  # it cannot be separated from the others
        candidates = [one for one in kept if lost not in one.times and one.group != lost]


def _usable(candidates: list[Interval]) -> tuple[list[Interval], set[Group], set[str]]:
    """Return the intervals to fit, the groups with a fitted soakage, and the stores without."""
    kept = _with_two_casks(candidates)
    groups, later = _groups(kept), _later_casks(kept)
    # Where later intervals suffice, a first one that cannot be split is not used.
    kept = _with_two_casks(
        [
            one
            for one in kept
            if one.group is None or one.group in groups or any(later.get(store, 0) < 2 for store in one.times)
        ]
    )
    groups &= _groups(kept)
    unsplit = [one for one in kept if one.group is not None and one.group not in groups]
    return kept, groups, {store for one in unsplit for store in one.times}


def _with_two_casks(candidates: list[Interval]) -> list[Interval]:
    """Return the intervals that lay only in stores with intervals of two casks or more."""
    while True:
        casks: dict[str, set[str | int]] = {}
        for one in candidates:
            for store in one.times:
                casks.setdefault(store, set()).add(one.cask)
        few = {store for store, seen in casks.items() if len(seen) < 2}
        if not few:
            return candidates
        candidates = [one for one in candidates if few.isdisjoint(one.times)]


def _later_casks(kept: Iterable[Interval]) -> dict[str, int]:
    casks: dict[str, set[str | int]] = {}
    for one in kept:
        if one.group is None:
            for store in one.times:
                casks.setdefault(store, set()).add(one.cask)
    return {store: len(seen) for store, seen in casks.items()}


def _groups(kept: Sequence[Interval]) -> set[Group]:
    """Return the groups whose soakage can be separated from evaporation."""
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
            length = 1.0  # soakage varies as much over two days as over a year
        rows.append(Row(one.cask, tuple(terms), one.log_loss({}, 0.0), length, one.variance))
    # Only draws across a move, or after soakage, depend on the unknown rates.
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
    for name, estimate in zip(names, estimates, strict=True):
        half = t_95(estimate.clusters - 1) * estimate.error
        between = estimate.error * math.sqrt(estimate.clusters)
        if isinstance(name, str):
            k, n = estimate.value, estimate.clusters
            rates[name] = LossRate(k, k - half, k + half, between, n, time[name], name in mixed)
        else:
            soakages[name] = Soakage(estimate.value, half, between, estimate.clusters)
    return Fit(rates, soakages)


def loss_rate(
    fills: Iterable[Fill], store: str, at: datetime, measure: Measure = Measure.ALCOHOL
) -> LossRate:
    """Return the loss rate of one `store`, fitted on gauges up to `at`.

    `fills` may lie in any stores; `measure` says whether pure alcohol or bulk volume is followed.
    How it is fitted, and the source, are those of `fit_losses`. Raises FigureError
    `too_few` below two casks with two gauges each in this store.
    """
    known = list(fills)
    rate = fit_losses(known, at, measure).rates.get(store)
    if rate is None:
        used = [one for n, fill in enumerate(known) for one in intervals(fill, fill.cask or n, at, measure)]
        casks = len({one.cask for one in used if store in one.times})
        raise FigureError("gauges", casks, Need.TWO_CASKS_GAUGED_TWICE, "too_few")
    return rate
