"""The angels: of the casks filled now and of all, a year's share, and bottles' worth."""

from __future__ import annotations

import math

import pytest

from kiosk.production.live import angels
from kiosk.production.live.casks import PROVIDER
from tests.production.live.conftest import YEAR, Books

FIRST = 1 * YEAR


def value(books: Books, spec: object, of: str = "") -> float | int | None:
    return books.figure(PROVIDER, spec.name, of).value  # type: ignore[attr-defined]


def test_two_shares_are_told_of_full_casks_and_of_all(books: Books) -> None:
    # Two casks lose a tenth in their year and are full; two others lost a fifth in theirs and are empty.
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    for number in (3, 4):
        begun = books.now - 3 * YEAR
        books.fill(number, begun, {0: 100, 1: 80}, emptied_at=begun + YEAR, store="ALTA")
    assert value(books, angels.TO_DATE) == pytest.approx(0.10, abs=1e-6)
    assert value(books, angels.SINCE_THE_FIRST) == pytest.approx(0.15, abs=1e-6)


def test_a_years_share_is_that_of_the_gauges_weighted_by_what_lies_in_each_store(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90}, store="BAJA")
        books.fill(number + 2, books.now - FIRST, {0: 100, 1: 80}, store="ALTA")
    assert value(books, angels.BY_STORE, "BAJA") == pytest.approx(0.1, abs=1e-6)
    assert value(books, angels.BY_STORE, "ALTA") == pytest.approx(0.2, abs=1e-6)
    # k = (90 ln(1/0.9) + 80 ln(1/0.8)) / 170, by hand.
    k = (90 * math.log(1 / 0.9) + 80 * math.log(1 / 0.8)) / 170
    figure = books.figure(PROVIDER, angels.PER_YEAR.name)
    assert figure.value == pytest.approx(1 - math.exp(-k), abs=1e-6)
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low <= figure.value <= figure.high


def test_bottles_are_of_750_ml_at_40_percent(books: Books) -> None:
    for number in (1, 2, 3):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    # 30 L of pure alcohol are gone, 0.3 L to a bottle.
    assert value(books, angels.BOTTLES) == pytest.approx(100, abs=0.01)
    # 270 L lose ln(1/0.9) of themselves a year: 94.8 bottles in 8 766 hours.
    hours = 8766 / (270 * math.log(1 / 0.9) / 0.3)
    assert value(books, angels.BOTTLE_EVERY) == pytest.approx(hours, rel=1e-4)


def test_strength_is_pure_alcohol_over_volume(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    assert value(books, angels.MATURING_ABV) == pytest.approx(60.0, abs=0.01)


def test_a_store_without_a_rate_leaves_the_year_unknown(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90}, store="BAJA")
    books.fill(3, books.now - FIRST, {0: 100}, store="ALTA")
    for spec in (angels.PER_YEAR, angels.BOTTLE_EVERY, angels.TO_DATE, angels.BOTTLES):
        assert books.figure(PROVIDER, spec.name).missing == "too_few"
    assert value(books, angels.BY_STORE, "BAJA") == pytest.approx(0.1, abs=1e-6)
    assert books.figure(PROVIDER, angels.BY_STORE.name, "ALTA").missing == "too_few"
