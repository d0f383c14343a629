"""Readings taken today, of whatever instrument, or when the last one was."""

from __future__ import annotations

from kiosk.figures.figure import RESTING
from kiosk.production.live.lab import PROVIDER, READINGS_TODAY
from tests.production.live.conftest import MORNING, YEAR, Books, hours


def test_readings_of_stills_tanks_and_casks_count(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    books.gravity(books.wash("W-2", "T2", MORNING), MORNING, 1.06)
    books.parrot(books.run("SR-1", MORNING), MORNING + hours(1), "hearts", 1, 80)
    books.fill(1, books.now - YEAR, {0: 100, 1: 90})
    figure = books.figure(PROVIDER, READINGS_TODAY.name)
    assert (figure.value, figure.as_of) == (3, books.now)


def test_a_day_without_a_reading_rests_since_the_last_one(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    figure = books.figure(PROVIDER, READINGS_TODAY.name)
    assert (figure.missing, figure.as_of) == (RESTING, MORNING - hours(40))


def test_a_house_without_a_reading_is_not_known(books: Books) -> None:
    assert books.figure(PROVIDER, READINGS_TODAY.name).missing == "no_record"
