from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.tours.routes import NO_LIMIT, Stop, lateness, split, stop_times, times_from, waves
from tests.figures.refusals import Call, refusal

TEN = datetime(2026, 6, 16, 10, 0, tzinfo=UTC)
ROUTE = (
    Stop("welcome", 10),
    Stop("still-house", 15, 4, holds=12),
    Stop("cask-store", 12, 3, holds=10),
    Stop("tasting-room", 40, 2, holds=22),
)


def at(minutes: float) -> datetime:
    return TEN + timedelta(minutes=minutes)


def spans(visits: object) -> list[tuple[datetime, datetime]]:
    return [(visit.arrives, visit.leaves) for visit in visits]  # type: ignore[attr-defined]


def test_a_small_group_is_at_each_stop_after_the_walk_and_for_its_minutes() -> None:
    found = stop_times(ROUTE, TEN, 8)
    assert spans(found) == [(at(0), at(10)), (at(14), at(29)), (at(32), at(44)), (at(46), at(86))]
    assert {visit.waves for visit in found} == {1}
    assert [visit.people for visit in found] == [8, 8, 8, 8]


def test_a_group_larger_than_a_stop_takes_waves_there() -> None:
    """22 guests: two waves of a stop for 12, three of a stop for 10."""
    found = stop_times(ROUTE, TEN, 22)
    assert [visit.waves for visit in found] == [1, 2, 3, 1]
    assert spans(found) == [(at(0), at(10)), (at(14), at(44)), (at(47), at(83)), (at(85), at(125))]
    assert [visit.people for visit in found] == [22, 12, 10, 22]


@pytest.mark.parametrize(
    ("guests", "holds", "turns"),
    [(22, 10, 3), (20, 10, 2), (21, 10, 3), (1, 10, 1), (0, 10, 1), (22, NO_LIMIT, 1), (10, 1, 10)],
)
def test_waves_are_as_many_as_the_stop_must_be_filled(guests: int, holds: int, turns: int) -> None:
    assert waves(guests, holds) == turns


@given(st.integers(0, 500), st.integers(1, 40))
def test_a_split_is_even_and_fits(guests: int, most: int) -> None:
    sizes = split(guests, most)
    assert sum(sizes) == guests
    assert max(sizes) <= most
    assert max(sizes) - min(sizes) <= 1
    assert len(sizes) == max((guests + most - 1) // most, 1)


def test_from_where_it_is_a_group_goes_on() -> None:
    """Ten minutes late at the still house, and five of its fifteen minutes are over."""
    found = times_from(ROUTE, 1, at(24), at(29), 8)
    assert [visit.slug for visit in found] == ["still-house", "cask-store", "tasting-room"]
    assert spans(found) == [(at(24), at(39)), (at(42), at(54)), (at(56), at(96))]
    assert lateness(stop_times(ROUTE, TEN, 8), found) == 10.0


def test_a_group_that_stays_too_long_leaves_now_at_the_earliest() -> None:
    found = times_from(ROUTE, 2, at(32), at(50), 8)
    assert found[0].leaves == at(50)
    assert lateness(stop_times(ROUTE, TEN, 8), found) == 6.0


def test_at_the_last_stop_nothing_follows() -> None:
    assert len(times_from(ROUTE, 3, at(46), at(46), 8)) == 1


def test_an_early_group_is_late_by_less_than_nothing() -> None:
    planned = stop_times(ROUTE, TEN, 8)
    assert lateness(planned, times_from(ROUTE, 3, at(40), at(41), 8)) == -6.0


@given(st.floats(0.0, 300.0), st.integers(0, 60))
def test_going_on_on_time_is_the_plan(shift: float, guests: int) -> None:
    planned = stop_times(ROUTE, at(shift), guests)
    for n, visit in enumerate(planned):
        assert times_from(ROUTE, n, visit.arrives, visit.arrives, guests) == planned[n:]


@pytest.mark.parametrize(("least", "slack"), [(None, 0.0), (8, 2.0), (10, 0.0), (12, 0.0)])
def test_a_stop_can_give_what_lies_above_its_least_minutes(least: int | None, slack: float) -> None:
    assert Stop("a", 10, least_minutes=least).slack_minutes == slack


def test_a_stop_that_is_not_there_says_which_are() -> None:
    with pytest.raises(FigureError) as caught:
        times_from(ROUTE, 4, TEN, TEN, 5)
    assert caught.value.allowed == Bounds(0, 3)


def test_an_empty_route_takes_no_time() -> None:
    assert stop_times((), TEN, 8) == ()


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: waves(-1, 10), "guests"),
        (lambda: waves(1, -1), "holds"),
        (lambda: split(10, 0), "holds"),
        (lambda: stop_times((Stop("a", -1.0),), TEN, 5), "minutes"),
        (lambda: stop_times((Stop("a", 1.0, -1.0),), TEN, 5), "walk_minutes"),
        (lambda: times_from(ROUTE, 4, TEN, TEN, 5), "here"),
        (lambda: times_from(ROUTE, -1, TEN, TEN, 5), "here"),
        (lambda: times_from(ROUTE, 0, at(1), TEN, 5), "arrived"),
        (lambda: lateness((), stop_times(ROUTE, TEN, 5)), "route"),
        (lambda: lateness(stop_times(ROUTE, TEN, 5), ()), "route"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], field: str) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert caught.value.field == field


STOP = Stop("x", 10, 0, 5)
EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: waves(-1, 10), "guests", Bounds(0)),
    (lambda: waves(5, -1), "holds", Bounds(0)),
    (lambda: split(5, 0), "holds", Bounds(1)),
    (lambda: times_from(ROUTE, -1, TEN, TEN, 5), "here", Bounds(0, 3)),
    (lambda: times_from(ROUTE, 4, TEN, TEN, 5), "here", Bounds(0, 3)),
    (lambda: times_from(ROUTE, 0, TEN + timedelta(seconds=1), TEN, 5), "arrived", Bounds(high=TEN)),
    (lambda: stop_times((Stop("x", -1, 0, 5),), TEN, 5), "minutes", Bounds(0, unit="min")),
    (lambda: stop_times((Stop("x", 1, -1, 5),), TEN, 5), "walk_minutes", Bounds(0, unit="min")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_the_edges_themselves_are_answered() -> None:
    assert (waves(0, 10), waves(0, NO_LIMIT), waves(10, 10), waves(11, 10)) == (1, 1, 1, 2)
    assert (split(0, 1), split(3, 1), split(5, 5)) == ((0,), (1, 1, 1), (5,))
    last = times_from(ROUTE, 3, TEN, TEN, 5)
    assert [visit.slug for visit in last] == [ROUTE[3].slug]
    assert refusal(lambda: lateness((), last)) == ("route", "too_few", Bounds(1))
    assert refusal(lambda: lateness(last, ())) == ("route", "too_few", Bounds(1))
