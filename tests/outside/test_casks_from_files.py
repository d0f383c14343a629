"""The figures of the casks again by another road: plain Python over the demo's own tables.

Estimates are made by simpler means than those under test (means of logarithms over undisturbed
intervals instead of a weighted regression), so they agree to a stated part and not to the last digit.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from tests.outside.demo_tables import (
    NOW,
    YEAR_BEGINS,
    YEAR_H,
    Figures,
    Line,
    Value,
    alcohol_l,
    at,
    hours,
    table,
)


def full() -> list[Line]:
    return [fill for fill in table("fills") if not fill["emptied_at"]]


def store_of(fill: Line, when: datetime = NOW) -> str:
    moves = [e for e in events(fill["code"]) if e["kind"] == "move" and at(e["at"]) <= when]
    return max(moves, key=lambda e: e["at"])["to_store"] if moves else fill["store"]


def events(fill: str) -> list[Line]:
    return [e for e in table("cask_events") if e["fill"] == fill]


def test_casks_are_counted(value: Value) -> None:
    casks, woods = table("casks"), {c["code"]: c["wood"] for c in table("casks")}
    assert value("casks_filled") == len(full())
    assert value("casks_empty") == len(casks) - len(full())
    for store in ("BAJA", "ALTA"):
        assert value("casks_by_store", store) == sum(store_of(fill) == store for fill in full())
    for wood in set(woods.values()):
        assert value("casks_by_wood", wood) == sum(woods[fill["cask"]] == wood for fill in full())
    fillings = [sum(f["cask"] == fill["cask"] for f in table("fills")) for fill in full()]
    assert value("cask_fills_mean") == pytest.approx(sum(fillings) / len(fillings))
    this_year = [fill for fill in table("fills") if at(fill["filled_at"]) >= YEAR_BEGINS]
    assert value("casks_filled_this_year") == len(this_year)
    oldest = min(at(fill["filled_at"]) for fill in full())
    assert value("cask_oldest") == pytest.approx(math.floor(10 * hours(oldest, NOW) / YEAR_H) / 10)
    last = {fill["code"]: fill["filled_at"] for fill in full()}
    for gauge in table("gauges"):
        if gauge["fill"] in last:
            last[gauge["fill"]] = max(last[gauge["fill"]], gauge["at"])
    assert value("casks_due_for_gauging") == sum(
        NOW - at(one) >= timedelta(days=183) for one in last.values()
    )


class Cellar:
    """The gauges of every fill in litres, and loss by means of logarithms."""

    def __init__(self) -> None:
        tares = {c["code"]: float(c["tare_kg"]) for c in table("casks")}
        wood = {c["code"]: c["wood"] for c in table("casks")}
        self.fills = {f["code"]: f for f in table("fills")}
        seen: dict[str, int] = defaultdict(int)
        self.group = {}
        for code, fill in self.fills.items():
            seen[fill["cask"]] += 1
            self.group[code] = (wood[fill["cask"]], seen[fill["cask"]])
        self.gauges: dict[str, list[tuple[datetime, float, float]]] = defaultdict(list)
        for line in sorted(table("gauges"), key=lambda g: g["at"]):
            pure, litres = alcohol_l(line, tares[self.fills[line["fill"]]["cask"]])
            self.gauges[line["fill"]].append((at(line["at"]), pure, litres))
        self.rates = {store: self._rate(store) for store in ("BAJA", "ALTA")}
        self.soaks = {group: self._soak(group) for group in set(self.group.values())}

    def taken(self, fill: str, start: datetime, end: datetime) -> float:
        """Return what left otherwise than by the air: samples, leaks, draws."""
        out = [e for e in events(fill) if e["kind"] in ("sample", "leak") and start < at(e["at"]) <= end]
        drawn = [d for d in table("draws") if d["from_kind"] == "fill" and d["from"] == fill]
        of_draws = sum(float(d["alcohol_l"]) for d in drawn if start < at(d["at"]) <= end)
        return sum(alcohol_l(e)[0] for e in out) + of_draws

    def _pairs(self, first: bool) -> Iterator[tuple[str, float, float]]:
        """Go through the intervals of casks that nobody moved or drew from: fill, logarithm, years."""
        for code, gauges in self.gauges.items():
            if any(e["kind"] in ("move", "leak", "sample") for e in events(code)):
                continue
            for n, (before, after) in enumerate(pairwise(gauges)):
                if (n == 0) == first and after[1] > 1 and not self.taken(code, before[0], after[0]):
                    yield code, math.log(before[1] / after[1]), hours(before[0], after[0]) / YEAR_H

    def _rate(self, store: str) -> float:
        found = [(log, t) for code, log, t in self._pairs(False) if self.fills[code]["store"] == store]
        return sum(log for log, _ in found) / sum(t for _, t in found)

    def _soak(self, group: tuple[str, int]) -> float:
        found = [
            log - self.rates[self.fills[code]["store"]] * t
            for code, log, t in self._pairs(True)
            if self.group[code] == group
        ]
        return sum(found) / len(found) if found else 0.0

    def there(self, code: str) -> float:
        """Return the pure alcohol in a fill now: its last gauge, less what was taken and its store's loss."""
        when, pure, _ = self.gauges[code][-1]
        if len(self.gauges[code]) == 1:
            pure *= math.exp(-self.soaks[self.group[code]])
        pure -= self.taken(code, when, NOW)
        return pure * math.exp(-self.rates[store_of(self.fills[code])] * hours(when, NOW) / YEAR_H)

    def balance(self, codes: list[str]) -> tuple[float, float]:
        """Return what was put into fills and what the air took of it."""
        put_in = lost = 0.0
        for code in codes:
            first_at, first, _ = self.gauges[code][0]
            soaked = first * (1 - math.exp(-self.soaks[self.group[code]]))
            left = 0.0 if self.fills[code]["emptied_at"] else self.there(code)
            put_in += first
            lost += first - soaked - self.taken(code, first_at, NOW) - left
        return put_in, lost


@pytest.fixture(scope="module")
def cellar() -> Cellar:
    return Cellar()


def test_spirit_in_the_casks_and_its_strength(value: Value, cellar: Cellar) -> None:
    there = sum(cellar.there(fill["code"]) for fill in full())
    assert value("spirit_maturing") == pytest.approx(there, rel=0.003)
    # Strength moves by tenths between gauges: the last ones give it nearly.
    last = [cellar.gauges[fill["code"]][-1] for fill in full()]
    mean = 100 * sum(pure for _, pure, _ in last) / sum(litres for _, _, litres in last)
    assert value("spirit_maturing_abv") == pytest.approx(mean, abs=0.3)
    assert value("spirit_maturing_volume") == pytest.approx(100 * there / mean, rel=0.008)
    assert value("cask_mean_now") == pytest.approx(100 * there / mean / len(full()), rel=0.008)
    put_in = [cellar.gauges[fill["code"]][0][2] for fill in full()]
    assert value("cask_mean_filling") == pytest.approx(sum(put_in) / len(put_in), rel=0.001)


def test_both_shares_of_the_angels(value: Value, cellar: Cellar) -> None:
    put_in, lost = cellar.balance([fill["code"] for fill in full()])
    assert value("angels_share_to_date") == pytest.approx(lost / put_in, abs=0.004)
    ever_in, ever_lost = cellar.balance(list(cellar.fills))
    assert value("angels_share_since_first") == pytest.approx(ever_lost / ever_in, abs=0.004)
    assert value("angels_bottles_to_date") == pytest.approx(ever_lost / 0.3, rel=0.04)


def test_what_a_year_takes_and_how_often_a_bottle(value: Value, cellar: Cellar, figures: Figures) -> None:
    for store, k in cellar.rates.items():
        assert value("angels_share_by_store", store) == pytest.approx(1 - math.exp(-k), abs=0.003)
    per_store: dict[str, float] = defaultdict(float)
    for fill in full():
        per_store[store_of(fill)] += cellar.there(fill["code"])
    yearly_l = sum(cellar.rates[store] * pure for store, pure in per_store.items())
    mean = 1 - math.exp(-yearly_l / sum(per_store.values()))
    assert value("angels_share_per_year") == pytest.approx(mean, abs=0.002)
    figure = figures["angels_bottle_every", ""]
    assert figure.value == pytest.approx(YEAR_H / (yearly_l / 0.3), rel=0.04)
