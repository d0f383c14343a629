"""Bottles of today and this year, the water of reduction, and the readings taken today."""

from __future__ import annotations

from datetime import date

import pytest

from kiosk.figures.figure import RESTING
from kiosk.production.live.bottling import (
    BOTTLED_TODAY,
    BOTTLED_YEAR,
    BOTTLING_PROVIDER,
    LABORATORY_PROVIDER,
    READINGS_TODAY,
    WATER_YEAR,
)
from tests.production.live.conftest import MORNING, YEAR, Books, hours

TODAY = date(2026, 6, 16)


def test_bottles_of_today_and_of_the_year_are_added_up(books: Books) -> None:
    books.lot("BL-0", date(2025, 12, 31), 1000)
    books.lot("BL-1", date(2026, 1, 1), 300)
    books.lot("BL-2", TODAY, 50)
    assert books.figure(BOTTLING_PROVIDER, BOTTLED_TODAY.name).value == 50
    assert books.figure(BOTTLING_PROVIDER, BOTTLED_YEAR.name).value == 350


def test_between_bottlings_the_line_rests_since_the_last_one(books: Books) -> None:
    books.lot("BL-0", date(2025, 12, 30), 1000)
    for spec in (BOTTLED_TODAY, BOTTLED_YEAR, WATER_YEAR):
        figure = books.figure(BOTTLING_PROVIDER, spec.name)
        assert figure.missing == RESTING
        assert books.site.local(figure.as_of).date() == date(2025, 12, 30)  # type: ignore[arg-type]


def test_a_house_that_never_bottled_is_not_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(BOTTLING_PROVIDER).values()} == {"no_record"}


def drawn_lot(books: Books, code: str, strength: float, volume_ml: int | None, **values: object) -> None:
    """A lot of 150 L at 40 % out of 60 L of pure alcohol of a strength."""
    run = books.run(f"SR-{code}", books.now - hours(90), books.now - hours(80))
    hearts = books.receiver(run, f"HT-{code}", "hearts", 6000 / strength, strength)
    lot = books.lot(code, TODAY, 200, **values)
    books.draw(hearts, lot, 60, volume_ml=volume_ml)


# 60 L of pure alcohol at 60 % vol weigh 90.911 kg/hL x 100 L, 150 L at 40 % 94.805: 51.4 L of water (by
# the practical tables of OIML R 22).
@pytest.mark.parametrize("volume_ml", [None, 100_000], ids=["by its receiver", "by its own volume"])
def test_water_is_what_was_bottled_less_what_was_drawn_by_weight(books: Books, volume_ml: int | None) -> None:
    drawn_lot(books, "BL-1", 60.0, volume_ml)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).value == pytest.approx(51.4, abs=0.1)


def test_a_lot_with_sugar_tells_no_water(books: Books) -> None:
    drawn_lot(books, "CO-1", 60.0, None, solids_g_per_l_e2=20_000)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).missing == "no_record"


def test_a_part_of_unknown_strength_leaves_its_lot_out(books: Books) -> None:
    fill = books.fill(1, books.now - YEAR, {0: 60})
    books.draw(fill, books.lot("AN-1", TODAY, 200), 60)
    drawn_lot(books, "BL-1", 60.0, None)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).value == pytest.approx(51.4, abs=0.1)


def test_readings_of_stills_tanks_and_casks_count(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    books.gravity(books.wash("W-2", "T2", MORNING), MORNING, 1.06)
    books.parrot(books.run("SR-1", MORNING), MORNING + hours(1), "hearts", 1, 80)
    books.fill(1, books.now - YEAR, {0: 100, 1: 90})
    figure = books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name)
    assert (figure.value, figure.as_of) == (3, books.now)


def test_a_day_without_a_reading_rests_since_the_last_one(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    figure = books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name)
    assert (figure.missing, figure.as_of) == (RESTING, MORNING - hours(40))


def test_a_house_without_a_reading_is_not_known(books: Books) -> None:
    assert books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name).missing == "no_record"
