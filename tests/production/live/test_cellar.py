"""The casks counted: empty ones, stores and woods, fillings, the oldest, those due for gauging."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from kiosk.figures.figure import RESTING, Basis
from kiosk.production.live import cellar
from kiosk.production.live.casks import CASK_PROVIDER
from kiosk.store.tables import production as t
from tests.production.live.conftest import YEAR, Books


def value(books: Books, spec: object, of: str = "") -> float | int | None:
    return books.figure(CASK_PROVIDER, spec.name, of).value  # type: ignore[attr-defined]


def test_casks_without_a_filling_are_empty_and_retired_ones_are_not(books: Books) -> None:
    books.fill(1, books.now - YEAR, {0: 114})
    gone = books.fill(2, books.now - YEAR, {0: 114}, emptied_at=books.now - YEAR / 2)
    books.fill(3, books.now - YEAR, {0: 114}, emptied_at=books.now - YEAR / 2)
    books.cask("C-never")
    assert value(books, cellar.EMPTY) == 3
    books.row(t.cask_events, fill_id=gone, kind="retired", at=books.now - YEAR / 2)
    assert value(books, cellar.EMPTY) == 2


def test_a_cask_counts_where_it_lies_after_its_moves(books: Books) -> None:
    books.fill(1, books.now - YEAR, {0: 114}, store="BAJA")
    moved = books.fill(2, books.now - YEAR, {0: 114}, store="BAJA")
    where = books.cask_store("ALTA")
    books.row(t.cask_events, fill_id=moved, kind="move", at=books.now - YEAR / 2, store_id=where)
    assert (value(books, cellar.BY_STORE, "BAJA"), value(books, cellar.BY_STORE, "ALTA")) == (1, 1)


def test_a_store_without_a_full_cask_counts_nothing_and_says_so(books: Books) -> None:
    books.fill(1, books.now - YEAR, {0: 114}, store="BAJA")
    books.cask_store("ALTA")
    assert value(books, cellar.BY_STORE, "ALTA") == 0


def test_woods_are_told_apart(books: Books) -> None:
    books.cask("C-2", wood="new oak")
    for number in (1, 2, 3):
        books.fill(number, books.now - YEAR, {0: 114})
    assert (value(books, cellar.BY_WOOD, "used oak"), value(books, cellar.BY_WOOD, "new oak")) == (2, 1)


def test_fillings_are_counted_by_cask(books: Books) -> None:
    books.fill(1, books.now - 3 * YEAR, {0: 114}, emptied_at=books.now - 2 * YEAR, cask="C-old")
    books.fill(2, books.now - YEAR, {0: 114}, cask="C-old")
    books.fill(3, books.now - YEAR, {0: 114})
    assert value(books, cellar.MEAN_FILLS) == 1.5


def test_the_oldest_time_in_a_cask_is_never_rounded_up(books: Books) -> None:
    books.fill(1, books.now - 4.99 * YEAR, {0: 114})
    assert value(books, cellar.OLDEST) == 4.9


def test_when_every_cask_is_empty_the_oldest_rests(books: Books) -> None:
    emptied_at = books.now - YEAR / 2
    books.fill(1, books.now - YEAR, {0: 114}, emptied_at=emptied_at)
    figure = books.figure(CASK_PROVIDER, cellar.OLDEST.name)
    assert (figure.missing, figure.as_of) == (RESTING, emptied_at)


def test_fillings_of_this_year_count_and_earlier_ones_rest(books: Books) -> None:
    last_year = books.now - YEAR
    books.fill(1, last_year, {0: 114})
    figure = books.figure(CASK_PROVIDER, cellar.FILLED_THIS_YEAR.name)
    assert (figure.missing, figure.as_of) == (RESTING, last_year)
    books.fill(2, books.now - timedelta(days=30), {0: 114}, emptied_at=books.now)
    assert value(books, cellar.FILLED_THIS_YEAR) == 1


@pytest.mark.parametrize(("days", "due"), [(182, 0), (184, 1)])
def test_a_cask_is_due_half_a_year_after_its_last_gauge(books: Books, days: int, due: int) -> None:
    books.fill(1, books.now - timedelta(days=days), {0: 114})
    assert value(books, cellar.DUE) == due


def test_a_leak_that_nobody_measured_makes_a_cask_due(books: Books) -> None:
    fill = books.fill(1, books.now - timedelta(days=30), {0: 114})
    books.row(t.cask_events, fill_id=fill, kind="leak", at=books.now - timedelta(days=2))
    assert value(books, cellar.DUE) == 1


SECOND = timedelta(seconds=1)


def test_a_cask_counts_from_the_moment_of_its_filling_to_that_of_its_emptying(books: Books) -> None:
    books.fill(1, books.now, {0: 114})
    books.fill(2, books.now + SECOND, {})
    books.fill(3, books.now - YEAR, {0: 114}, emptied_at=books.now)
    books.fill(4, books.now - YEAR, {0: 114}, emptied_at=books.now + SECOND)
    assert value(books, cellar.FILLED) == 2
    assert books.figure(CASK_PROVIDER, cellar.FILLED.name).as_of == books.now


def test_a_cask_is_retired_from_the_moment_of_its_record(books: Books) -> None:
    gone = books.fill(1, books.now - YEAR, {0: 114}, emptied_at=books.now - YEAR / 2)
    books.row(t.cask_events, fill_id=gone, kind="retired", at=books.now)
    assert value(books, cellar.EMPTY) == 0
    assert books.figure(CASK_PROVIDER, cellar.EMPTY.name, now=books.now - SECOND).value == 1


def test_a_cask_that_was_filled_again_after_it_was_retired_is_not_counted_twice(books: Books) -> None:
    first = books.fill(1, books.now - YEAR, {0: 114}, emptied_at=books.now - YEAR / 2, cask="C-1")
    books.row(t.cask_events, fill_id=first, kind="retired", at=books.now - YEAR / 2)
    books.fill(2, books.now - YEAR / 4, {0: 114}, cask="C-1")
    assert (value(books, cellar.FILLED), value(books, cellar.EMPTY)) == (1, 0)


def test_figures_of_casks_rest_on_the_five_newest_full_ones_and_the_oldest_on_itself(books: Books) -> None:
    fills = [books.fill(n, books.now - YEAR - n * SECOND, {0: 114}) for n in range(1, 8)]
    counted = books.figure(CASK_PROVIDER, cellar.FILLED.name)
    assert counted.rests_on == tuple(f"fill:{one}" for one in reversed(fills[2:]))
    oldest = books.figure(CASK_PROVIDER, cellar.OLDEST.name)
    assert (oldest.rests_on, oldest.basis) == ((f"fill:{fills[-1]}",), Basis.COUNTED)


def test_this_year_begins_with_the_service_day_of_the_first_of_january(books: Books) -> None:
    begins, _ = books.site.day_bounds(date(2026, 1, 1))
    books.fill(1, begins - SECOND, {0: 114})
    figure = books.figure(CASK_PROVIDER, cellar.FILLED_THIS_YEAR.name)
    assert (figure.missing, figure.as_of) == (RESTING, begins - SECOND)
    fills = [books.fill(n, begins + (n - 2) * SECOND, {0: 114}) for n in range(2, 9)]
    figure = books.figure(CASK_PROVIDER, cellar.FILLED_THIS_YEAR.name)
    assert (figure.value, figure.basis) == (7, Basis.COUNTED)
    assert figure.rests_on == tuple(f"fill:{one}" for one in reversed(fills[2:]))


def test_a_cask_is_due_at_the_very_moment_and_an_emptied_one_never(books: Books) -> None:
    half_a_year = timedelta(days=183)
    books.fill(1, books.now - half_a_year, {0: 114})
    books.fill(2, books.now - half_a_year + SECOND, {0: 114})
    books.fill(3, books.now - YEAR, {0: 114}, emptied_at=books.now - half_a_year)
    assert value(books, cellar.DUE) == 1


def test_the_newest_record_of_a_cask_is_that_of_now_at_the_latest(books: Books) -> None:
    fill = books.fill(1, books.now - YEAR, {0: 114, 2: 90}, emptied_at=books.now + YEAR)
    books.row(t.cask_events, fill_id=fill, kind="leak", at=books.now)
    books.row(t.cask_events, fill_id=fill, kind="leak", at=books.now + SECOND)
    assert books.figure(CASK_PROVIDER, cellar.FILLED.name).as_of == books.now
