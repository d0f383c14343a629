"""Cane milled today: a sum, or the last time; never a zero that nobody weighed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, State, state
from kiosk.production.live.cane import MILLED_TODAY, PROVIDER
from tests.production.live.conftest import MORNING, Books, hours

NAME = MILLED_TODAY.name


def test_todays_loads_add_up(books: Books) -> None:
    books.load("L-1", MORNING, 3_000_000)
    books.load("L-2", MORNING + hours(2), 2_500_000)
    figure = books.figure(PROVIDER, NAME)
    assert (figure.value, figure.as_of) == (pytest.approx(5.5), MORNING + hours(2))
    assert state(figure, MILLED_TODAY, books.now) is State.FRESH
    assert len(figure.rests_on) == 2


def test_on_a_day_without_milling_the_mill_rests_since_the_last(books: Books) -> None:
    books.load("L-1", MORNING - timedelta(days=2))
    figure = books.figure(PROVIDER, NAME)
    assert (figure.value, figure.missing, figure.as_of) == (None, RESTING, MORNING - timedelta(days=2))


def test_the_service_day_turns_at_five(books: Books) -> None:
    before_five, after_five = MORNING - hours(2.5), MORNING - hours(1.5)
    books.load("L-1", before_five)
    assert books.figure(PROVIDER, NAME).missing == RESTING
    books.load("L-2", after_five)
    assert books.figure(PROVIDER, NAME).value == pytest.approx(3.0)


def test_what_is_milled_later_is_not_told_before(books: Books) -> None:
    books.load("L-1", books.now + hours(1))
    assert books.figure(PROVIDER, NAME).missing == "no_record"


def test_without_any_load_it_is_not_known(books: Books) -> None:
    figure = books.figure(PROVIDER, NAME)
    assert (figure.missing, state(figure, MILLED_TODAY, books.now)) == ("no_record", State.UNKNOWN)
