"""Days of the year on which casks were filled, by the site's own clock."""

from __future__ import annotations

from datetime import UTC, datetime

from kiosk.figures.figure import Registry
from kiosk.production.live.birthdays import casks_filled_on
from kiosk.store.rows import versions
from tests.production.live.conftest import YEAR, Books


def filled_on(books: Books, day: int, month: int) -> tuple[int, ...]:
    reader = Registry([]).reader(books.store.read, versions, books.site, books.now)
    return tuple(casks_filled_on(reader, day, month))


def test_every_cask_of_the_day_is_told_by_its_year_earliest_first(books: Books) -> None:
    for n, year in enumerate((2024, 2022, 2024), 1):
        books.fill(n, datetime(year, 3, 5, 14, 0, tzinfo=UTC), {0: 100})
    assert filled_on(books, 5, 3) == (2022, 2024, 2024)
    assert filled_on(books, 3, 5) == ()


def test_a_cask_emptied_since_was_filled_all_the_same(books: Books) -> None:
    filled_at = datetime(2024, 3, 5, 14, 0, tzinfo=UTC)
    books.fill(1, filled_at, {0: 100}, emptied_at=filled_at + YEAR)
    assert filled_on(books, 5, 3) == (2024,)


def test_the_day_is_the_sites_own(books: Books) -> None:
    books.fill(1, datetime(2024, 3, 5, 2, 0, tzinfo=UTC), {0: 100})
    assert filled_on(books, 4, 3) == (2024,)


def test_29_february_answers_for_itself(books: Books) -> None:
    books.fill(1, datetime(2024, 2, 29, 14, 0, tzinfo=UTC), {0: 100})
    assert (filled_on(books, 29, 2), filled_on(books, 1, 3)) == ((2024,), ())
