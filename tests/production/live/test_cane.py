"""Cane milled today: a sum, or the last time; never a zero that nobody weighed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, Basis, State, state
from kiosk.production.live.cane import (
    AREA,
    CANE_PROVIDER,
    JUICE_BRIX,
    JUICE_PER_TONNE,
    LAST_LOAD,
    MILLED_TODAY,
    SEASON,
    SEASON_LOADS,
    STANDING,
)
from kiosk.store.tables import production as t
from tests.production.live.conftest import MORNING, Books, hours

NAME = MILLED_TODAY.name


def test_todays_loads_add_up(books: Books) -> None:
    books.load("L-1", MORNING, 3_000_000)
    books.load("L-2", MORNING + hours(2), 2_500_000)
    figure = books.figure(CANE_PROVIDER, NAME)
    assert (figure.value, figure.as_of) == (pytest.approx(5.5), MORNING + hours(2))
    assert state(figure, MILLED_TODAY, books.now) is State.FRESH
    assert len(figure.rests_on) == 2


def test_on_a_day_without_milling_the_mill_rests_since_the_last(books: Books) -> None:
    books.load("L-1", MORNING - timedelta(days=2))
    figure = books.figure(CANE_PROVIDER, NAME)
    assert (figure.value, figure.missing, figure.as_of) == (None, RESTING, MORNING - timedelta(days=2))


def test_the_service_day_turns_at_five(books: Books) -> None:
    before_five, after_five = MORNING - hours(2.5), MORNING - hours(1.5)
    books.load("L-1", before_five)
    assert books.figure(CANE_PROVIDER, NAME).missing == RESTING
    books.load("L-2", after_five)
    assert books.figure(CANE_PROVIDER, NAME).value == pytest.approx(3.0)


def test_what_is_milled_later_is_not_told_before(books: Books) -> None:
    books.load("L-1", books.now + hours(1))
    assert books.figure(CANE_PROVIDER, NAME).missing == "no_record"


def test_without_any_load_it_is_not_known(books: Books) -> None:
    figure = books.figure(CANE_PROVIDER, NAME)
    assert (figure.missing, state(figure, MILLED_TODAY, books.now)) == ("no_record", State.UNKNOWN)


def test_a_season_is_what_was_milled_since_the_last_long_rest(books: Books) -> None:
    books.load("L-1", MORNING - timedelta(days=200), 9_000_000)
    books.load("L-2", MORNING - timedelta(days=59), 2_000_000)
    books.load("L-3", MORNING - timedelta(days=1), 1_000_000)
    season = books.figure(CANE_PROVIDER, SEASON.name)
    assert (season.value, season.as_of) == (pytest.approx(3.0), MORNING - timedelta(days=1))
    assert books.figure(CANE_PROVIDER, SEASON_LOADS.name).value == 2


def test_between_seasons_the_harvest_rests(books: Books) -> None:
    last = MORNING - timedelta(days=61)
    books.load("L-1", last)
    for spec in (SEASON, SEASON_LOADS, JUICE_PER_TONNE):
        figure = books.figure(CANE_PROVIDER, spec.name)
        assert (figure.missing, figure.as_of) == (RESTING, last)


def test_brix_of_the_day_is_weighted_by_juice(books: Books) -> None:
    for code, juice_ml, brix_e2 in (("L-1", 3_000_000, 1500), ("L-2", 1_000_000, 1900)):
        sizes = {"cane_g": 5_000_000, "juice_ml": juice_ml, "brix_e2": brix_e2}
        books.batch(t.loads, "load", code, cut_on=MORNING.date(), milled_at=MORNING, **sizes)
    # 3 000 L at 1.0611 and 1 000 L at 1.0785 (specific gravities by the sugar tables, from memory).
    kg = (3000 * 1.0611, 1000 * 1.0785)
    expected = (15 * kg[0] + 19 * kg[1]) / sum(kg)
    assert books.figure(CANE_PROVIDER, JUICE_BRIX.name).value == pytest.approx(expected, abs=0.005)


def test_juice_per_tonne_is_by_weight(books: Books) -> None:
    books.load("L-1", MORNING, 3_000_000)
    # 1 700 L of juice at 16 °Bx weigh 1.0654 x 0.9982 kg a litre (sugar tables, from memory): of 3 t of cane.
    expected = 1700 * 1.0654 * 0.9982 / 3
    assert books.figure(CANE_PROVIDER, JUICE_PER_TONNE.name).value == pytest.approx(expected, rel=1e-3)


def test_juice_that_nobody_tasted_for_sugar_is_not_known(books: Books) -> None:
    sizes = {"cane_g": 3_000_000, "juice_ml": 1_700_000, "brix_e2": None}
    books.batch(t.loads, "load", "L-1", cut_on=MORNING.date(), milled_at=MORNING, **sizes)
    assert books.figure(CANE_PROVIDER, JUICE_BRIX.name).missing == "no_reading"
    assert books.figure(CANE_PROVIDER, MILLED_TODAY.name).value == pytest.approx(3.0)


def test_the_land_is_that_of_all_fields(books: Books) -> None:
    assert books.figure(CANE_PROVIDER, AREA.name).missing == "no_record"
    for code, area_m2 in (("VEGA", 44_000), ("LOMA", 38_500)):
        books.batch(t.fields, "field", code, variety="criolla", area_m2=area_m2)
    figure = books.figure(CANE_PROVIDER, AREA.name)
    assert (figure.value, figure.basis) == (pytest.approx(8.25), Basis.STATED)


def test_land_is_as_of_its_newest_record_and_of_now_at_the_latest(books: Books) -> None:
    books.batch(t.fields, "field", "VEGA", variety="criolla", area_m2=44_000)
    assert books.figure(CANE_PROVIDER, AREA.name, now=books.now + hours(9)).as_of == books.now
    assert books.figure(CANE_PROVIDER, AREA.name, now=books.now - hours(9)).as_of == books.now - hours(9)


def test_a_load_milled_this_moment_or_as_the_day_turned_is_of_today(books: Books) -> None:
    second = timedelta(seconds=1)
    for n, at in enumerate((MORNING - hours(2) - second, MORNING - hours(2), books.now, books.now + second)):
        books.load(f"L-{n}", at, 10**n * 1_000_000)
    figure = books.figure(CANE_PROVIDER, NAME)
    assert (figure.value, figure.as_of, figure.basis) == (110.0, books.now, Basis.MEASURED)
    assert books.figure(CANE_PROVIDER, SEASON_LOADS.name).value == 3


def test_a_season_rests_on_its_five_newest_loads_and_leaves_out_juice_that_was_not_read(books: Books) -> None:
    loads = [books.load(f"L-{n}", MORNING - timedelta(days=9 - n)) for n in range(7)]
    unread = {"cane_g": 9_000_000, "juice_ml": 1_700_000, "brix_e2": None, "cut_on": MORNING.date()}
    last = books.batch(t.loads, "load", "L-9", milled_at=MORNING, **unread)
    counted = books.figure(CANE_PROVIDER, SEASON_LOADS.name)
    assert (counted.value, counted.basis) == (8, Basis.COUNTED)
    assert counted.rests_on == tuple(f"load:{one}" for one in [*loads[-4:], last])
    juice = books.figure(CANE_PROVIDER, JUICE_PER_TONNE.name)
    assert juice.value == pytest.approx(1700 * 1.0654 * 0.9982 / 3, rel=1e-3)
    assert juice.as_of == MORNING - timedelta(days=3)


def test_the_last_load_is_the_newest_of_the_season_and_rests_with_it(books: Books) -> None:
    books.load("L-1", MORNING - timedelta(days=1), 3_000_000)
    books.load("L-2", MORNING, 2_400_000)
    figure = books.figure(CANE_PROVIDER, LAST_LOAD.name)
    assert (figure.value, figure.as_of) == (pytest.approx(2.4), MORNING)
    later = books.figure(CANE_PROVIDER, LAST_LOAD.name, now=MORNING + timedelta(days=90))
    assert (later.missing, later.as_of) == (RESTING, MORNING)


def test_the_cane_that_has_stood_longest_counts_from_its_fields_last_cut(books: Books) -> None:
    assert books.figure(CANE_PROVIDER, STANDING.name).missing == "no_record"
    fields = [books.batch(t.fields, "field", code, variety="B-1", area_m2=10_000) for code in ("N", "S")]
    for code, field, days in (("L-1", 0, 400), ("L-2", 0, 40), ("L-3", 1, 300)):
        load = books.load(code, MORNING - timedelta(days=days))
        books.row(t.draws, from_id=fields[field], to_id=load, measure="cane_g", amount=1, at=MORNING)
    figure = books.figure(CANE_PROVIDER, STANDING.name)
    assert (figure.value, figure.rests_on) == (301, (f"field:{fields[1]}",))
