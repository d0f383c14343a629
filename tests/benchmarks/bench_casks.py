"""How long casks and lineage take, as ratios within one run: `python tests/benchmarks/bench_casks.py`.

A plain script, not collected with the tests. Times depend on the machine, so
each is set beside a bare loop of the same run: reading and adding up the same
gauges or edges. The second part shows that the time grows with the records and
not faster.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from kiosk.figures.casks import Event, EventKind, Fill, How, angels_share, fit_losses, gauged
from kiosk.figures.making.yields import Draw, age, lineage

NOW = datetime(2026, 6, 16, tzinfo=UTC)
YEAR = timedelta(days=365.25)
SEED = 25


def taken(work: Callable[[], object], repeats: int = 3) -> float:
    """Return the least seconds of several runs."""
    found = []
    for _ in range(repeats):
        started = time.perf_counter()
        work()
        found.append(time.perf_counter() - started)
    return min(found)


def fills(casks: int) -> list[Fill]:
    """Casks of three gauges, in two stores, of two woods; one in ten sampled, one in twenty moved."""
    random_ = random.Random(SEED)
    found = []
    for n in range(casks):
        age_years = random_.uniform(2.0, 5.0)
        filled = NOW - age_years * YEAR
        amount = random_.uniform(105.0, 125.0)
        store, rate = random_.choice([("dry", 0.06), ("humid", 0.04)])
        gauges, events = [], []
        for part in (0.0, 0.3, 0.7):
            at = filled + part * age_years * YEAR
            left = amount * (1.0 - rate) ** (part * age_years) * (0.98 if part else 1.0)
            gauges.append(gauged(at, left / 0.6, left * random_.gauss(1.0, 0.005), How.DIP))
        if n % 10 == 0:
            events.append(Event(EventKind.SAMPLE, filled + 0.5 * age_years * YEAR, 1.0, 0.6))
        if n % 20 == 0:
            events.append(Event(EventKind.MOVE, filled + 0.5 * age_years * YEAR, store="humid"))
        wood = random_.choice(["oak", "used oak"])
        found.append(Fill(str(n), store, filled, tuple(gauges), tuple(events), wood=wood, number=1 + n % 3))
    return found


def edges(batches: int, drawn_from: int = 4) -> list[tuple[int, int, float]]:
    """Each batch is drawn from a few of the fifty before it; the number of paths doubles over and over."""
    random_ = random.Random(SEED)
    return [
        (source, to, random_.uniform(1.0, 100.0))
        for to in range(1, batches)
        for source in {random_.randint(max(0, to - 50), to - 1) for _ in range(drawn_from)}
    ]


def casks_part() -> None:
    """Print the one computation after a change, for a thousand and for a hundred thousand casks."""
    seconds = {}
    for casks in (1_000, 100_000):
        stock = fills(casks)
        fit = fit_losses(stock, NOW)
        bare = taken(lambda stock=stock: sum(g.alcohol_l for fill in stock for g in fill.gauges))  # type: ignore[misc]
        share = taken(
            lambda stock=stock, fit=fit: angels_share(stock, NOW, fit.rates, soakages=fit.soakages)  # type: ignore[misc]
        )
        fitting = taken(lambda stock=stock: fit_losses(stock, NOW), 1)  # type: ignore[misc]
        seconds[casks] = share, fitting
        print(f"{casks:>7} casks: angels' share {share:.3f} s = {share / bare:.0f} x adding up their gauges")
        print(
            f"{casks:>7} casks: fit of rates and soakage {fitting:.3f} s = {fitting / share:.1f} x the share"
        )
    small, large = seconds[1_000], seconds[100_000]
    print(f"100 times the casks: share {large[0] / small[0]:.0f} x, fit {large[1] / small[1]:.0f} x the time")


def lineage_part() -> None:
    """Print lineage and age over ten thousand batches."""
    seconds = {}
    for batches in (1_000, 10_000):
        drawn = edges(batches)
        feints = set(range(0, batches, 7))
        bare = taken(lambda drawn=drawn: sum(amount for _, _, amount in drawn))  # type: ignore[misc]
        whole = taken(lambda drawn=drawn, batches=batches: lineage(batches - 1, drawn))  # type: ignore[misc]
        cut = taken(lambda drawn=drawn, batches=batches, feints=feints: lineage(batches - 1, drawn, feints))  # type: ignore[misc]
        days = [Draw(a, b, amount, NOW.date() + timedelta(days=b)) for a, b, amount in drawn]
        filled = {n: NOW.date() + timedelta(days=n) for n in range(0, batches, 3)}
        aged = taken(lambda days=days, filled=filled, batches=batches: age(batches - 1, days, filled))  # type: ignore[misc]
        seconds[batches] = whole
        print(
            f"{batches:>7} batches, {len(drawn)} draws: lineage {whole * 1e3:.1f} ms = {whole / bare:.0f} x "
            f"adding up the draws; with feints {cut / whole:.2f} x; age {aged / whole:.2f} x"
        )
    print(f"10 times the batches: {seconds[10_000] / seconds[1_000]:.1f} x the time")


if __name__ == "__main__":
    casks_part()
    lineage_part()
