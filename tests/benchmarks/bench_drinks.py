"""How fast the rules answer: `python tests/benchmarks/bench_drinks.py` from a checkout.

A guest with 200 pours behind them is no guest but a worst case; a room of 22 tiles
asks for as many allowances at once.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from timeit import repeat

from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Guest,
    Kind,
    Limit,
    Offer,
    Pour,
    PourMark,
    Room,
    Sample,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    allowance,
    cost,
    counted,
    decide,
    fits,
    plan,
)

NOON = datetime(2026, 6, 16, 12, tzinfo=timezone(timedelta(hours=-4)))
ROOM = Room("main", NOON - timedelta(hours=7), NOON + timedelta(hours=17), NOON.tzinfo)  # type: ignore[arg-type]
GUEST = Guest(ServiceState.MAY_BE_SERVED, 1)
OFFER = Offer("rum", 7393, 4000)
RULES = ServicePolicy(
    21,
    "invented",
    2026,
    (
        Limit("largest", Kind.LARGEST, "pour", 14_787),
        Limit("day", Kind.VOLUME, "day", 10_000_000),
        Limit("drinks", Kind.DRINKS, "day", 10**12),
        Limit("hour", Kind.POURS, 60, 500),
        Limit("each", Kind.POURS, "day", 500, product="each one"),
        Limit("standing", Kind.GLASSES, 15, 500),
        Limit("gap", Kind.GAP, most=60),
    ),
)


def had(n: int) -> list[Served]:
    """Return n pours of the last n minutes."""
    return [
        Served(f"{i:032x}", NOON - timedelta(minutes=n - i), 1, 1, f"rum-{i % 8}", 7393, 4000)
        for i in range(n)
    ]


def folded(n: int) -> Callable[[], object]:
    """Return the folding of n pours, a quarter of them corrected."""
    pours = [Pour(f"{i:032x}", NOON - timedelta(minutes=n - i), 1, 1, "rum", 7393, 4000) for i in range(n)]
    marks = [PourMark(f"{i:031x}f", NOON, f"{i:032x}", "void") for i in range(0, n, 4)]
    return lambda: counted(pours, marks)


def timed(act: Callable[[], object], number: int) -> float:
    """Return the least time of one call in microseconds."""
    return min(repeat(act, number=number, repeat=5)) / number * 1e6


def main() -> None:
    """Print one line for each measure."""
    many, few = had(200), had(6)
    six = [Sample(OFFER)] * 6
    twelve = [Sample(Offer("rum", 44_361, 4000))] * 12
    day = ServicePolicy(21, "invented", 2026, (Limit("day", Kind.VOLUME, "day", 44_361),))
    us = STANDARD_DRINKS["US"]
    given, asked = allowance(RULES, GUEST, many, Server(1), ROOM, NOON), cost(RULES, OFFER)
    measures: list[tuple[str, Callable[[], object], int]] = [
        ("decide, 200 pours", lambda: decide(RULES, GUEST, many, Server(1), ROOM, NOON, OFFER), 100),
        ("decide, 6 pours", lambda: decide(RULES, GUEST, few, Server(1), ROOM, NOON, OFFER), 500),
        ("fits, allowance of 200 pours at hand", lambda: fits(given, asked), 500),
        ("fold of 200 pours, 50 corrected", folded(200), 100),
        ("plan of 6 samples that fit", lambda: plan(six, day, drink=us, measures_ul=(7393,)), 20),
        ("plan of 12 samples of which 1 fits", lambda: plan(twelve, day, drink=us, measures_ul=(7393,)), 1),
    ]
    for name, act, number in measures:
        print(f"{name:<40} {timed(act, number):>12,.1f} µs")


if __name__ == "__main__":
    main()
