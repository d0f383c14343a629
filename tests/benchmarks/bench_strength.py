"""What an inversion costs: strength from density, ours against scipy's brentq on the same formula.

Run as `python -m tests.benchmarks.bench_strength [--rounds 5] [--n 20000]`. The two take turns
within each round, so that a busy machine slows both; read the ratios, not the rates. brentq is
given the same folded polynomial, so that the search alone is compared.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta

from scipy.optimize import brentq

from kiosk.figures import making, strength
from kiosk.figures.strength.mixture import _line

Case = tuple[float, float]
ONE_TEMPERATURE, EACH_ITS_OWN = "one temperature", "each its own temperature"


def cases(n: int, own_temperature: bool) -> list[Case]:
    """Return density and temperature of n mixtures, the same ones every time."""
    dice = random.Random(20260616)
    temperatures = [dice.uniform(1.0, 39.0) if own_temperature else 27.3 for _ in range(n)]
    return [(strength.density(dice.uniform(0.01, 0.99), t), t) for t in temperatures]


def by_newton(chosen: Sequence[Case]) -> list[float]:
    return [strength.mass_fraction(density, t) for density, t in chosen]


def by_brentq(chosen: Sequence[Case]) -> list[float]:
    return [
        brentq(_miss, 0.0, 1.0, args=(_line(t).coefficients, density), xtol=1e-12) for density, t in chosen
    ]


def _miss(p: float, coefficients: Sequence[float], density: float) -> float:
    value = 0.0
    for c in coefficients:
        value = value * p + c
    return value - density


def rate(work: Callable[[], object], n: int) -> float:
    """Return how many a second."""
    begun = time.perf_counter()
    work()
    return n / (time.perf_counter() - begun)


def compare(label: str, n: int, rounds: int, own_temperature: bool) -> None:
    chosen = cases(n, own_temperature)
    apart = max(abs(a - b) for a, b in zip(by_newton(chosen), by_brentq(chosen), strict=True))
    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(rate(lambda: by_newton(chosen), n))
        theirs.append(rate(lambda: by_brentq(chosen), n))
    ratios = sorted(a / b for a, b in zip(ours, theirs, strict=True))
    print(f"{label}: {statistics.median(ours):,.0f} a second, brentq {statistics.median(theirs):,.0f}")
    print(
        f"  ratio {statistics.median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f}), apart by {apart:.1e}"
    )


def others(n: int) -> None:
    """Print what the calculations that rest on the inversion cost."""
    start = datetime(2026, 6, 16, 9, 0, tzinfo=UTC)
    run = [
        making.Reading(start + timedelta(minutes=m), "hearts", float(m), 79.0 - m / 12) for m in range(200)
    ]
    fall = [
        making.WashReading(start + timedelta(hours=6 * h), making.specific_gravity(16.0 - h))
        for h in range(12)
    ]
    many = {
        "true_abv": lambda: [strength.true_abv(40.0 + i % 40, 27.0) for i in range(n)],
        "dilute": lambda: [strength.dilute(100.0, 70.0, 30.0 + i % 40) for i in range(n)],
    }
    for name, work in many.items():
        print(f"{name}: {rate(work, n):,.0f} a second")
    print(f"cuts of 200 readings: {rate(lambda: [making.cuts(run) for _ in range(20)], 20):,.0f} a second")
    forecasts = rate(lambda: [making.forecast_end(fall) for _ in range(200)], 200)
    print(f"forecast_end of 12 readings: {forecasts:,.0f} a second")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--n", type=int, default=20_000)
    asked = parser.parse_args()
    compare(ONE_TEMPERATURE, asked.n, asked.rounds, own_temperature=False)
    compare(EACH_ITS_OWN, asked.n, asked.rounds, own_temperature=True)
    others(asked.n)


if __name__ == "__main__":
    main()
