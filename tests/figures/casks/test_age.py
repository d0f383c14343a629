from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.casks.age import YEAR_DAYS, Draw, age, stay_days
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal


def draw(source: str, to: str, on: str, amount: float = 10.0) -> Draw[str]:
    return Draw(source, to, amount, date.fromisoformat(on))


FILLED = {"cask-1": date(2018, 6, 16), "cask-2": date(2021, 1, 10), "second": date(2023, 3, 1)}


def test_a_lot_is_as_old_as_its_youngest_spirit() -> None:
    draws = [draw("cask-1", "lot", "2026-06-15"), draw("cask-2", "lot", "2026-06-15")]
    assert age("lot", draws, FILLED).years == 5
    assert age("lot", draws[:1], FILLED).years == 7


def test_a_year_is_completed_on_its_day() -> None:
    assert age("lot", [draw("cask-1", "lot", "2021-06-15")], FILLED).years == 2
    assert age("lot", [draw("cask-1", "lot", "2021-06-16")], FILLED).years == 3


def test_time_in_tanks_does_not_count() -> None:
    """Three years in oak, then five in steel; before that a year in a receiver."""
    draws = [
        draw("run", "receiver", "2017-06-01"),
        draw("receiver", "cask-1", "2018-06-16"),
        draw("cask-1", "tank", "2021-07-01"),
        draw("tank", "lot", "2026-07-01"),
    ]
    assert age("lot", draws, FILLED).years == 3


@pytest.mark.parametrize("stated", [{}, {"run": 0}])
def test_a_day_short_of_a_year_is_no_year_whatever_tanks_it_went_through(stated: dict[str, int]) -> None:
    """A leap year less a day: one day made up anywhere would make it a year."""
    filled = {"cask": date(2019, 6, 16)}
    draws = [
        draw("run", "receiver", "2019-06-16"),
        draw("receiver", "cask", "2019-06-16"),
        draw("cask", "tank", "2020-06-15"),
        draw("tank", "vat", "2020-07-01"),
        draw("vat", "lot", "2020-08-01"),
    ]
    assert age("lot", draws, filled, stated).years == 0


def test_time_in_two_casks_adds_up() -> None:
    """2 years and 258 days, then 1 year and 200 days: four years and 92 days."""
    draws = [draw("cask-1", "second", "2021-03-01"), draw("second", "lot", "2024-09-17")]
    assert stay_days(date(2018, 6, 16), date(2021, 3, 1)) == 2 * YEAR_DAYS + 258
    assert stay_days(date(2023, 3, 1), date(2024, 9, 17)) == YEAR_DAYS + 200
    assert age("lot", draws, FILLED).years == 4


def test_a_topping_makes_the_whole_as_young_as_itself() -> None:
    draws = [
        draw("cask-1", "second", "2023-03-01"),
        draw("new make", "second", "2023-03-01", 0.01),
        draw("second", "lot", "2026-06-15"),
    ]
    assert age("lot", draws, FILLED).years == 3


def test_a_partial_draw_taken_earlier_is_younger() -> None:
    """The same cask gave to the vat twice."""
    draws = [draw("cask-1", "vat", "2026-06-20"), draw("cask-1", "vat", "2020-06-20")]
    assert age("vat", draws, FILLED).years == 2


def test_spirit_from_elsewhere_counts_with_its_stated_age() -> None:
    draws = [draw("cask-1", "lot", "2026-06-15"), draw("bought", "lot", "2026-06-15")]
    assert age("lot", draws, FILLED, {"bought": 3}).years == 3
    assert age("lot", draws, FILLED, {"bought": 12}).years == 7
    assert age("lot", draws, FILLED).years == 0  # new from the still, as far as anyone says


def test_bought_spirit_goes_on_ageing_here() -> None:
    draws = [draw("bought", "second", "2023-03-01"), draw("second", "lot", "2025-03-01")]
    assert age("lot", draws, FILLED, {"bought": 3}).years == 5


def test_one_part_of_unknown_age_makes_the_age_unknown_and_is_named() -> None:
    draws = [draw("cask-1", "lot", "2026-06-15"), draw("bought", "lot", "2026-06-15", 0.001)]
    found = age("lot", draws, FILLED, {"bought": None})
    assert (found.years, found.unknown) == (None, ("bought",))


def test_what_brings_no_alcohol_has_no_age() -> None:
    draws = [draw("cask-1", "lot", "2026-06-15"), draw("water", "lot", "2026-06-15", 0.0)]
    assert age("lot", draws, FILLED, {"water": None}).years == 7


def test_spirit_that_never_saw_oak_has_no_years() -> None:
    assert age("lot", [draw("run", "lot", "2026-06-15")], {}).years == 0
    assert age("lot", [], {}).years == 0


@pytest.mark.parametrize(
    ("filled", "drawn", "years"),
    [
        ("2020-02-29", "2021-02-28", 0),
        ("2020-02-29", "2021-03-01", 1),
        ("2020-02-29", "2024-02-28", 3),
        ("2020-02-29", "2024-02-29", 4),
        ("2020-06-16", "2020-06-16", 0),
        ("2020-12-31", "2021-12-30", 0),
    ],
)
def test_completed_years_follow_the_calendar(filled: str, drawn: str, years: int) -> None:
    assert stay_days(date.fromisoformat(filled), date.fromisoformat(drawn)) // YEAR_DAYS == years


@pytest.mark.parametrize(
    ("filled", "drawn", "years", "days"),
    [
        ("2021-03-01", "2023-02-01", 1, 337),
        ("2020-02-29", "2021-03-02", 1, 1),
        ("2024-01-01", "2024-12-31", 0, 365),
    ],
)
def test_a_stay_is_years_by_the_calendar_and_days_over(
    filled: str, drawn: str, years: int, days: int
) -> None:
    found = stay_days(date.fromisoformat(filled), date.fromisoformat(drawn))
    assert found == years * YEAR_DAYS + days


DAYS = st.dates(date(2000, 1, 1), date(2040, 1, 1))


@given(DAYS, DAYS)
def test_a_stay_is_never_longer_than_it_was(one: date, other: date) -> None:
    filled, drawn = sorted((one, other))
    years, days = divmod(stay_days(filled, drawn), YEAR_DAYS)
    assert 0 <= days < YEAR_DAYS
    assert timedelta(days=365 * years + days) <= drawn - filled < timedelta(days=366 * (years + 1))


@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(0, 2), st.integers(0, 4000)), max_size=12
    ),
    st.lists(st.integers(0, 6), unique=True),
)
def test_the_youngest_is_the_least_over_all_paths(
    rows: list[tuple[int, int, int, int]], casks: list[int]
) -> None:
    """The slow way round: walk every path back and add the stays in oak."""
    first = date(2010, 1, 1)
    filled = dict.fromkeys(casks, first)
    draws = [
        Draw(min(a, b), max(a, b), float(amount), first + timedelta(days=days))
        for a, b, amount, days in rows
        if a != b
    ]

    def stays(batch: int) -> list[int]:
        parts = [d for d in draws if d.to == batch and d.amount > 0.0]
        if not parts:
            return [0]
        return list(
            itertools.chain.from_iterable(
                [(stay_days(first, d.on) if d.source in filled else 0) + before for before in stays(d.source)]
                for d in parts
            )
        )

    assert age(6, draws, filled).years == min(stays(6)) // YEAR_DAYS


def test_a_moment_of_the_day_does_not_matter() -> None:
    assert stay_days(datetime(2020, 6, 16, 23, 59), date(2021, 6, 16)) == YEAR_DAYS  # noqa: DTZ001


def test_a_draw_before_the_filling_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        age("lot", [draw("cask-1", "lot", "2018-06-15")], FILLED)
    assert caught.value.field == "drawn_on"


def test_a_loop_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        age("lot", [draw("a", "lot", "2020-01-01"), draw("lot", "a", "2020-01-01")], {})
    assert caught.value.reason == "loop"


def test_a_draw_before_the_filling_is_refused_with_the_day_of_the_filling() -> None:
    call: Call = lambda: stay_days(date(2020, 6, 16), date(2020, 6, 15))  # noqa: E731
    assert refusal(call) == ("drawn_on", "out_of_range", Bounds(date(2020, 6, 16)))
    assert stay_days(date(2020, 6, 16), date(2020, 6, 16)) == 0


@pytest.mark.parametrize(
    ("filled", "drawn", "days"),
    [
        (date(2020, 6, 16), date(2021, 6, 15), 364),
        (date(2020, 6, 16), date(2021, 6, 16), 366),
        (date(2020, 6, 16), date(2021, 6, 17), 367),
        (date(2020, 2, 29), date(2021, 2, 28), 365),
        (date(2020, 2, 29), date(2021, 3, 1), 366),
        (date(2020, 2, 29), date(2024, 2, 28), 3 * 366 + 364),
        (date(2020, 2, 29), date(2024, 2, 29), 4 * 366),
        (date(2020, 12, 31), date(2021, 1, 1), 1),
    ],
)
def test_a_stay_is_its_whole_years_and_the_days_after_them(filled: date, drawn: date, days: int) -> None:
    assert stay_days(filled, drawn) == days
