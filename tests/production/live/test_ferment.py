"""Each tank says the day and the alcohol of its wash, or that it rests."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, State, state
from kiosk.production.live.ferment import PROVIDER, WASH_ABV, WASH_DAY
from tests.production.live.conftest import MORNING, Books, hours

DAY = timedelta(days=1)


def test_the_day_of_setting_is_the_first_day(books: Books) -> None:
    books.wash("W-1", "T1", MORNING)
    books.wash("W-2", "T2", MORNING - 2 * DAY)
    assert books.figure(PROVIDER, WASH_DAY.name, "T1").value == 1
    assert books.figure(PROVIDER, WASH_DAY.name, "T2").value == 3


def test_alcohol_comes_from_the_first_and_the_latest_gravity(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - 3 * DAY)
    books.gravity(wash, MORNING - 3 * DAY, 1.0699)
    books.gravity(wash, MORNING - 1 * DAY, 1.0200)
    books.gravity(wash, MORNING, 0.9970)
    figure = books.figure(PROVIDER, WASH_ABV.name, "T1")
    # OG 1.0699, FG 0.997: 9.76 % vol by Balling's formula (worked out by hand).
    assert figure.value == pytest.approx(9.76, abs=0.01)
    assert figure.as_of == MORNING


def test_a_wash_just_set_holds_a_measured_nothing(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0650)
    assert books.figure(PROVIDER, WASH_ABV.name, "T1").value == 0.0


def test_a_gravity_a_hair_above_the_first_is_still_nothing(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0650)
    books.gravity(wash, MORNING + hours(1), 1.0652)
    assert books.figure(PROVIDER, WASH_ABV.name, "T1").value == 0.0


def test_a_wash_nobody_has_read_is_not_known(books: Books) -> None:
    books.wash("W-1", "T1", MORNING)
    assert books.figure(PROVIDER, WASH_ABV.name, "T1").missing == "no_reading"


def test_an_empty_tank_rests_since_its_last_wash(books: Books) -> None:
    books.wash("W-1", "T1", MORNING - 9 * DAY, MORNING - 4 * DAY)
    for spec in (WASH_DAY, WASH_ABV):
        figure = books.figure(PROVIDER, spec.name, "T1")
        assert (figure.missing, figure.as_of) == (RESTING, MORNING - 4 * DAY)


def test_a_tank_that_never_held_a_wash_is_not_known(books: Books) -> None:
    books.vessel("T9")
    assert books.figure(PROVIDER, WASH_DAY.name, "T9").missing == "no_record"


def test_stills_are_no_tanks(books: Books) -> None:
    books.vessel("SS", "spirit_still")
    assert books.figures(PROVIDER) == {}


def test_a_wash_unread_since_the_day_before_is_stale(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - 3 * DAY)
    books.gravity(wash, MORNING - 1 * DAY, 1.0650)
    figure = books.figure(PROVIDER, WASH_ABV.name, "T1")
    assert state(figure, WASH_ABV, books.now) is State.STALE
