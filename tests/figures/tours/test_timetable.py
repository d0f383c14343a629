from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.figures.tours.routes import NO_LIMIT, Plan, Stop, stop_times, waves
from kiosk.figures.tours.timetable import (
    MOST_WAYS,
    clashes,
    earliest_start,
    flight_minutes,
    most_samples,
    shorten,
)
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


TEN = datetime(2026, 6, 16, 10, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
ROUTE_TIMETABLE = (
    Stop("yard", 10, 0, NO_LIMIT),
    Stop("still-house", 15, 4, holds=12),
    Stop("cask-store", 12, 3, holds=10),
    Stop("tasting-room", 40, 2, holds=22),
)


def at(minutes: float) -> datetime:
    return TEN + timedelta(minutes=minutes)


def group(name: str, minutes: float, guests: int, route: tuple[Stop, ...] = ROUTE_TIMETABLE) -> Plan:
    return Plan(name, stop_times(route, at(minutes), guests))


def test_two_groups_too_many_for_a_stop_clash_for_as_long_as_both_are_there() -> None:
    """A is at the still house from 14 to 29, B from 19 to 34: 16 people where 12 fit."""
    first, *others = clashes([group("A", 0, 8), group("B", 5, 8)])
    assert (first.slug, first.since, first.until) == ("still-house", at(19), at(29))
    assert (first.groups, first.people, first.holds) == (("A", "B"), 16, 12)
    assert [(clash.slug, clash.since, clash.until) for clash in others] == [("cask-store", at(37), at(44))]


def test_groups_that_fit_together_do_not_clash() -> None:
    assert clashes([group("A", 0, 5), group("B", 5, 5)]) == ()


def test_who_leaves_when_another_arrives_does_not_clash() -> None:
    """B comes to the still house at 29, when A leaves it, and to the tasting room at 61 with room for 22."""
    assert clashes([group("A", 0, 10), group("B", 15, 10)]) == ()
    assert [clash.slug for clash in clashes([group("A", 0, 10), group("B", 14.5, 10)])] == ["still-house"]


def test_a_place_without_limit_never_clashes() -> None:
    yard = (ROUTE_TIMETABLE[0],)
    assert clashes([group("A", 0, 500, yard), group("B", 0, 500, yard)]) == ()


def test_a_group_in_waves_shares_the_stop_with_nobody() -> None:
    store = (ROUTE_TIMETABLE[2],)
    (clash,) = clashes([group("A", 0, 22, store), group("B", 30, 1, store)])
    assert (clash.since, clash.until, clash.people) == (at(33), at(39), 11)


def test_a_large_group_alone_does_not_clash_with_itself() -> None:
    assert clashes([group("A", 0, 60)]) == ()


def test_any_number_of_groups_clash_together() -> None:
    """Three of six at a stop for twelve: two fit, three do not."""
    still = (ROUTE_TIMETABLE[1],)
    plans = [group(name, minutes, 6, still) for name, minutes in (("A", 0), ("B", 5), ("C", 10))]
    (clash,) = clashes(plans)
    assert (clash.groups, clash.since, clash.until) == (("A", "B", "C"), at(14), at(19))
    assert clashes(plans[:2]) == ()


STOPS_TIMETABLE = st.builds(
    Stop,
    st.sampled_from(["a", "b", "c"]),
    minutes=st.integers(0, 20),
    walk_minutes=st.integers(0, 5),
    holds=st.sampled_from([NO_LIMIT, 6, 10]),
)
ROUTES_TIMETABLE = st.lists(STOPS_TIMETABLE, min_size=1, max_size=4).map(tuple)
GROUPS = st.lists(st.tuples(ROUTES_TIMETABLE, st.integers(0, 90), st.integers(1, 25)), max_size=5)


def crowded(plans: list[Plan]) -> set[tuple[str, datetime]]:
    """Minute by minute, who is where: the slow way."""
    found = set()
    for minute in range(400):
        now = at(minute)
        there: dict[str, list[tuple[str, int, int]]] = {}
        for plan in plans:
            for v in plan.visits:
                if v.arrives <= now < v.leaves and v.holds != NO_LIMIT:
                    there.setdefault(v.slug, []).append((plan.group, v.people, v.holds))
        for slug, present in there.items():
            names = {name for name, _, _ in present}
            if len(names) > 1 and sum(people for _, people, _ in present) > min(h for _, _, h in present):
                found.add((slug, now))
    return found


@given(GROUPS)
def test_clashes_are_those_of_a_walk_minute_by_minute(
    groups: list[tuple[tuple[Stop, ...], int, int]],
) -> None:
    plans = [group(str(n), minutes, guests, route) for n, (route, minutes, guests) in enumerate(groups)]
    told = set()
    for clash in clashes(plans):
        now = clash.since
        while now < clash.until:
            told.add((clash.slug, now))
            now += MINUTE
    assert told == crowded(plans)


@given(GROUPS, ROUTES_TIMETABLE, st.integers(1, 25), st.sampled_from([1, 5, 7]))
def test_the_earliest_start_clashes_with_none_and_no_earlier_one_does_so(
    groups: list[tuple[tuple[Stop, ...], int, int]], route: tuple[Stop, ...], guests: int, step: int
) -> None:
    others = [group(str(n), minutes, size, stops) for n, (stops, minutes, size) in enumerate(groups)]

    def clear(start: datetime) -> bool:
        new = Plan("new", stop_times(route, start, guests))
        return not any("new" in clash.groups for clash in clashes([*others, new]))

    found = earliest_start(route, guests, others, TEN, step=step * MINUTE)
    assert found is not None
    assert clear(found)
    assert (found - TEN) % (step * MINUTE) == timedelta(0)
    earlier = TEN
    while earlier < found:
        assert not clear(earlier)
        earlier += step * MINUTE


def test_the_next_start_by_hand() -> None:
    """Ten people each: the still house is free at 29, so B sets off at 15; in steps of 10, at 20."""
    others = [group("A", 0, 10)]
    assert earliest_start(ROUTE_TIMETABLE, 10, others, TEN) == at(15)
    assert earliest_start(ROUTE_TIMETABLE, 10, others, TEN, step=10 * MINUTE) == at(20)
    assert earliest_start(ROUTE_TIMETABLE, 10, others, TEN, not_after=at(14)) is None
    assert earliest_start(ROUTE_TIMETABLE, 10, others, TEN, not_after=at(15)) == at(15)
    assert earliest_start(ROUTE_TIMETABLE, 10, [], TEN) == TEN


def test_clashes_among_others_do_not_hold_a_group_back() -> None:
    others = [group("A", 0, 10), group("B", 1, 10)]
    assert clashes(others)
    assert earliest_start((ROUTE_TIMETABLE[0],), 10, others, TEN) == TEN


def test_a_step_of_nothing_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        earliest_start(ROUTE_TIMETABLE, 10, [], TEN, step=timedelta(0))
    assert caught.value.field == "step"


# 22 guests x 8 samples are 176 pours; at 8 s each 23 minutes of one server (computed).
def test_a_flight_takes_as_long_as_its_pours() -> None:
    assert flight_minutes(22, 8, 1, pour_seconds=8.0, talk_minutes=0.0) == pytest.approx(176 * 8 / 60)
    assert flight_minutes(22, 8, 2, pour_seconds=8.0, talk_minutes=0.0) == pytest.approx(176 * 4 / 60)


def test_or_as_long_as_its_gaps_where_these_are_longer() -> None:
    assert flight_minutes(2, 8, 1, gap_minutes=5.0, talk_minutes=0.0) == 35.0
    assert flight_minutes(2, 1, 1, gap_minutes=5.0, pour_seconds=0.0, talk_minutes=0.0) == 0.0


def test_and_the_talk_of_every_sample_comes_on_top() -> None:
    assert flight_minutes(6, 9, 1, 3.0, 10.0, 2.5) == pytest.approx(max(24.0, 9.0) + 22.5)
    assert flight_minutes(22, 0, 1) == 0.0


@given(st.floats(0.0, 200.0), st.integers(0, 40), st.integers(1, 4), st.floats(0.0, 10.0))
def test_the_most_samples_fit_and_one_more_does_not(
    minutes: float, guests: int, servers: int, gap: float
) -> None:
    most = most_samples(minutes, guests, servers, gap, of=9)
    assert flight_minutes(guests, most, servers, gap) <= minutes
    assert most == 9 or flight_minutes(guests, most + 1, servers, gap) > minutes


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: flight_minutes(1, 1, 0), "servers"),
        (lambda: flight_minutes(-1, 1, 1), "guests"),
        (lambda: flight_minutes(1, -1, 1), "samples"),
        (lambda: flight_minutes(1, 1, 1, gap_minutes=-1.0), "gap_minutes"),
        (lambda: flight_minutes(1, 1, 1, pour_seconds=-1.0), "pour_seconds"),
        (lambda: flight_minutes(1, 1, 1, talk_minutes=-1.0), "talk_minutes"),
        (lambda: most_samples(-1.0, 1, 1), "minutes"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], field: str) -> None:
    with pytest.raises(FigureError) as caught:
        call()
    assert caught.value.field == field


EDGES: list[tuple[Call, str, Bounds]] = [
    (
        lambda: earliest_start(ROUTE_TIMETABLE, 10, [], TEN, step=timedelta(0)),
        "step",
        Bounds(0, unit="min", above=True),
    ),
    (lambda: flight_minutes(1, 1, 0), "servers", Bounds(1)),
    (lambda: flight_minutes(-1, 1, 1), "guests", Bounds(0)),
    (lambda: flight_minutes(1, -1, 1), "samples", Bounds(0)),
    (lambda: flight_minutes(1, 1, 1, gap_minutes=-1e-9), "gap_minutes", Bounds(0, unit="min")),
    (lambda: flight_minutes(1, 1, 1, pour_seconds=-1e-9), "pour_seconds", Bounds(0, unit="s")),
    (lambda: flight_minutes(1, 1, 1, talk_minutes=-1e-9), "talk_minutes", Bounds(0, unit="min")),
    (lambda: most_samples(-1e-9, 1, 1), "minutes", Bounds(0, unit="min")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_a_flight_that_ends_just_in_time_fits() -> None:
    """Six guests, one server: a sample takes 6 x 10 s to pour and 2 minutes of talk."""
    timing = {"pour_seconds": 10.0, "talk_minutes": 2.0}
    assert flight_minutes(6, 4, 1, **timing) == 12.0
    assert most_samples(12.0, 6, 1, **timing) == 4
    assert most_samples(11.999, 6, 1, **timing) == 3
    assert most_samples(12.0, 6, 1, **timing, of=2) == 2
    assert most_samples(0.0, 6, 1, **timing) == 0


def test_a_pour_takes_eight_seconds_the_talk_two_minutes_and_twenty_samples_are_the_most() -> None:
    assert flight_minutes(15, 4, 1) == 4 * (15 * 8 / 60 + 2)
    assert most_samples(10_000.0, 1, 1) == 20
