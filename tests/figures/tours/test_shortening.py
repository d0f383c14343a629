from __future__ import annotations

import math
from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.figures.tours.routes import NO_LIMIT, Stop, waves
from kiosk.figures.tours.shortening import MOST_WAYS, shorten
from tests.figures.refusals import Call, refusal

ROUTE = (
    Stop("briefing", 10, least_minutes=8, may_be_dropped=True, kept=True),
    Stop("field", 15, least_minutes=10, may_be_dropped=True),
    Stop("mill", 12, least_minutes=6, may_be_dropped=True),
    Stop("water", 5, may_be_dropped=True, kept=True),
    Stop("tasting", 40, least_minutes=30, after=("briefing",)),
)


def told(late: float, guests: int = 1) -> list[tuple[dict[str, float], tuple[str, ...], float]]:
    return [(dict(way.shortened), way.dropped, way.saved_minutes) for way in shorten(ROUTE, late, guests)]


def test_a_short_delay_is_cut_where_there_is_most_to_give() -> None:
    """Three minutes: of the tasting's ten; or one stop is dropped and all else stays whole."""
    assert told(3) == [
        ({"tasting": 3.0}, (), 3.0),
        ({}, ("field",), 15.0),
        ({}, ("mill",), 12.0),
    ]


def test_the_least_minutes_come_before_dropping() -> None:
    """2 + 5 + 6 + 10 minutes can be cut: 23 without dropping anything, 24 not."""
    assert told(23)[0] == ({"briefing": 2.0, "field": 5.0, "mill": 6.0, "tasting": 10.0}, (), 23.0)
    assert [dropped for _, dropped, _ in told(24)] == [("field",), ("mill",), ("field", "mill")]


def test_a_drop_is_helped_by_cuts_where_it_is_not_enough() -> None:
    """Without the field 15 are saved; the other nine come from what has most to give."""
    cuts, dropped, saved = told(24)[0]
    assert (dropped, saved) == (("field",), 24.0)
    assert sum(cuts.values()) == 9.0
    assert cuts["tasting"] > cuts["mill"]


def test_two_stops_dropped_are_enough_alone() -> None:
    assert told(24)[2] == ({}, ("field", "mill"), 27.0)


def test_what_no_way_makes_up_has_none() -> None:
    """27 by dropping both, 12 by cutting briefing and tasting: 39."""
    assert told(39)[-1][2] == 39.0
    assert told(39.5) == []


def test_a_stop_gives_its_last_part_of_a_minute_and_no_more() -> None:
    (way,) = shorten((Stop("mill", 10.5, least_minutes=8),), 2.5)
    assert (way.shortened, way.saved_minutes) == ((("mill", 2.5),), 2.5)
    (way,) = shorten((Stop("mill", 8.5, least_minutes=8),), 0.5)
    assert way.shortened == (("mill", 0.5),)


def test_a_group_on_time_changes_nothing() -> None:
    for late in (0.0, -5.0):
        (way,) = shorten(ROUTE, late)
        assert (way.route, way.shortened, way.dropped, way.saved_minutes) == (ROUTE, (), (), 0.0)


def test_a_minute_less_is_saved_once_a_wave() -> None:
    """22 guests at a stop for ten: each minute counts three times."""
    store = (Stop("cask-store", 12, holds=10, least_minutes=6, may_be_dropped=True),)
    cut, drop = shorten(store, 7, 22)
    assert (cut.shortened, cut.saved_minutes) == ((("cask-store", 3.0),), 9.0)
    assert (drop.dropped, drop.saved_minutes) == (("cask-store",), 36.0)


def test_the_new_route_carries_the_new_minutes() -> None:
    way = shorten(ROUTE, 3)[0]
    assert [stop.minutes for stop in way.route] == [10, 15, 12, 5, 37]
    assert [stop.slug for stop in shorten(ROUTE, 3)[1].route] == ["briefing", "mill", "water", "tasting"]


def test_a_stop_that_another_needs_is_not_dropped_alone() -> None:
    route = (Stop("mill", 10, may_be_dropped=True), Stop("still", 10, may_be_dropped=True, after=("mill",)))
    assert [way.dropped for way in shorten(route, 10)] == [("still",)]
    assert [way.dropped for way in shorten(route, 20)] == [("mill", "still")]


def test_a_stop_that_says_no_least_minutes_is_not_cut() -> None:
    assert shorten((Stop("water", 5),), 1) == ()


def test_no_more_ways_are_told_than_a_guide_can_read() -> None:
    route = tuple(Stop(f"s{n}", 10, least_minutes=9, may_be_dropped=True) for n in range(18))
    assert len(shorten(route, 60)) == MOST_WAYS


STOPS = st.builds(
    Stop,
    st.sampled_from(["a", "b", "c", "d", "e"]),
    minutes=st.integers(0, 30),
    holds=st.sampled_from([NO_LIMIT, 5, 10]),
    least_minutes=st.one_of(st.none(), st.integers(0, 30)),
    may_be_dropped=st.booleans(),
    kept=st.booleans(),
    after=st.lists(st.sampled_from(["a", "b"]), max_size=1).map(tuple),
)
ROUTES = st.lists(STOPS, max_size=5, unique_by=lambda stop: stop.slug).map(tuple)


def length(route: tuple[Stop, ...], guests: int) -> float:
    return sum(waves(guests, stop.holds) * stop.minutes for stop in route)


@given(ROUTES, st.floats(0.0, 90.0), st.integers(1, 25))
def test_every_way_makes_up_the_whole_delay_and_keeps_the_rules(
    route: tuple[Stop, ...], late: float, guests: int
) -> None:
    before = {stop.slug: stop for stop in route}
    ways = shorten(route, late, guests)
    for way in ways:
        assert length(route, guests) - length(way.route, guests) == pytest.approx(way.saved_minutes)
        assert way.saved_minutes >= late - 1e-9
        for slug in way.dropped:
            assert before[slug].may_be_dropped
            assert not before[slug].kept
        for stop in way.route:
            assert set(way.dropped).isdisjoint(stop.after)
            old = before[stop.slug]
            if stop.minutes != old.minutes:
                assert old.least_minutes is not None
                assert stop.minutes >= old.least_minutes
    assert len({(way.shortened, way.dropped) for way in ways}) == len(ways)


@given(ROUTES, st.floats(0.0, 90.0), st.integers(1, 25))
def test_where_no_way_is_told_there_is_none(route: tuple[Stop, ...], late: float, guests: int) -> None:
    """Every set of stops dropped, everything else at its least."""
    droppable = [stop for stop in route if stop.may_be_dropped and not stop.kept]
    best = 0.0
    for gone in chain.from_iterable(combinations(droppable, n) for n in range(len(droppable) + 1)):
        kept = [stop for stop in route if stop not in gone]
        slugs = {stop.slug for stop in gone}
        if all(slugs.isdisjoint(stop.after) for stop in kept):
            least = tuple(
                Stop(stop.slug, stop.minutes - stop.slack_minutes, holds=stop.holds) for stop in kept
            )
            best = max(best, length(route, guests) - length(least, guests))
    assert bool(shorten(route, late, guests)) == (best >= late)


@pytest.mark.parametrize("late", [math.nan, math.inf])
def test_a_delay_that_is_no_number_is_refused(late: float) -> None:
    with pytest.raises(FigureError) as caught:
        shorten(ROUTE, late)
    assert caught.value.field == "minutes_late"


def test_a_delay_is_a_number_and_guests_are_not_fewer_than_none() -> None:
    for late in (math.nan, math.inf, -math.inf):
        call: Call = lambda late=late: shorten(ROUTE, late)  # noqa: E731
        assert refusal(call) == ("minutes_late", "out_of_range", Need.FINITE_NUMBER)
    assert refusal(lambda: shorten(ROUTE, 5.0, -1)) == ("guests", "out_of_range", Bounds(0))
