"""How fast a store takes its share: a loss rate from gauges, casks as clusters."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from kiosk.figures.errors import FigureError
from kiosk.figures.fills import EventKind, Fill, Gauge, Measure, years
from kiosk.figures.solving import root
from kiosk.figures.student import t_95


@dataclass(frozen=True, slots=True)
class LossRate:
    """A store's loss per year: what is there falls as exp(-per_year x years).

    `low` and `high` bound the store's mean rate (90 %). `between_casks` is the
    standard deviation from cask to cask, gauges' own errors in it. `casks` and
    `cask_years` are what the fit rests on.
    """

    per_year: float
    low: float
    high: float
    between_casks: float
    casks: int
    cask_years: float


Rates = Mapping[str, LossRate]
"""Loss rates by store; a store with too few gauges is absent."""


def _interval_loss(fill: Fill, first: Gauge, second: Gauge, measure: Measure) -> float | None:
    """Return ln of what evaporation left of an interval's amount, None where it cannot be told."""
    start, end = first.amount(measure), second.amount(measure)
    drawn: list[tuple[float, float]] = []  # litres, and the share of the interval still to come
    for event in fill.events_between(first.at, second.at):
        if event.kind is EventKind.MOVE:
            if event.at > first.at:
                return None  # two stores in one interval: no store's alone
            continue
        litres = event.amount(measure)
        if litres is None:
            if event.kind is not EventKind.RETIRED:
                return None
            continue
        drawn.append((litres, (second.at - event.at) / (second.at - first.at)))
    if min(start, end) <= 0.0 or sum(litres for litres, _ in drawn) >= start:
        return None
    if not drawn:
        return math.log(end / start)

    def left(log_left: float) -> tuple[float, float]:
        value = slope = start * math.exp(log_left)
        for litres, to_come in drawn:
            gone = litres * math.exp(log_left * to_come)
            value -= gone
            slope -= gone * to_come
        return value, slope

    return root(left, end, -5.0, 5.0)


def _clusters(fills: Iterable[Fill], store: str, at: datetime, measure: Measure) -> list[tuple[float, float]]:
    """Return per cask the sum of its logarithms and of its years in that store."""
    found = []
    for fill in fills:
        logs = time = 0.0
        for first, second in pairwise(fill.gauges_until(at)):
            if second.at <= first.at or fill.store_at(first.at) != store:
                continue
            log_left = _interval_loss(fill, first, second, measure)
            if log_left is not None:
                logs += log_left
                time += years(first.at, second.at)
        if time > 0.0:
            found.append((logs, time))
    return found


def loss_rate(
    fills: Iterable[Fill], store: str, at: datetime, measure: Measure = Measure.ALCOHOL
) -> LossRate:
    """Return the loss rate of a `store`, from gauges up to `at`, each cask one witness.

    `fills` may lie anywhere; `measure` says whether pure alcohol or bulk volume is followed.
    Intervals between two gauges of one fill count; one across a move, with an
    unmeasured draw or leak, or gauged empty does not. What was drawn in between
    is allowed for: A2 = A1 e^(-kT) - sum D_j e^(-k (t2 - t_j)). With ln_i the
    sum of a cask's logarithms and T_i of its years,
    k = -sum ln_i / sum T_i, and its variance, casks being n clusters, is
    n / (n - 1) x sum (ln_i + k T_i)² / (sum T_i)²; the interval is 90 % by Student's t.
    Raises FigureError `too_few` below two casks with two gauges each.
    Source: ratio estimate with clusters (W. G. Cochran, Sampling Techniques, from memory).
    """
    clusters = _clusters(fills, store, at, measure)
    n = len(clusters)
    if n < 2:
        raise FigureError("gauges", n, f"two casks gauged twice in store {store}, or more", "too_few")
    time = sum(t for _, t in clusters)
    k = -sum(logs for logs, _ in clusters) / time
    squares = n / (n - 1) * sum((logs + k * t) ** 2 for logs, t in clusters)
    half = t_95(n - 1) * math.sqrt(squares) / time
    return LossRate(k, k - half, k + half, math.sqrt(squares * n) / time, n, time)


def loss_rates(
    fills: Iterable[Fill], at: datetime, measure: Measure = Measure.ALCOHOL
) -> dict[str, LossRate]:
    """Return the loss rate of every store that has enough gauges for one, by store.

    `fills`, `at`, `measure` and the source are those of `loss_rate`; a store
    with too few gauges is left out.
    """
    by_store: dict[str, list[Fill]] = {}
    for fill in fills:
        for store in {fill.store, *(e.store for e in fill.events if e.kind is EventKind.MOVE)}:
            by_store.setdefault(store, []).append(fill)
    found = {}
    for store, lying in by_store.items():
        try:
            found[store] = loss_rate(lying, store, at, measure)
        except FigureError as error:
            if error.reason != "too_few":
                raise
    return found
