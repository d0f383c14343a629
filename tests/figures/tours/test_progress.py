"""Where a group is by its steps, how late it is, and the orders that avoid a stop that it cannot enter."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.tours.progress import (
    FORGOTTEN,
    Progress,
    Step,
    detour,
    own_clashes,
    position,
    progress,
    with_plan,
)
from kiosk.figures.tours.routes import Plan, Stop, stop_times

NINE = datetime(2026, 6, 16, 9, 0, tzinfo=UTC)
YARD = Stop("yard", 10, walk_minutes=5, holds=20)
STILL = Stop("still", 15, walk_minutes=5, holds=10)
STORE = Stop("store", 15, walk_minutes=5, holds=10)
ROOM = Stop("room", 40, walk_minutes=5, holds=20, after=("still",))
ROUTE = (YARD, STILL, STORE, ROOM)


def at(minutes: float) -> datetime:
    """Return the instant so many minutes after nine."""
    return NINE + timedelta(minutes=minutes)


def far(*steps: Step, now: float, people: int = 8, route: tuple[Stop, ...] = ROUTE) -> Progress:
    """Return how far a group is that was to start at nine."""
    return progress(ROUTE, route, NINE, steps, at(now), people)


def test_a_group_is_at_the_stop_of_its_last_step() -> None:
    steps = [Step("start", at(0)), Step("next", at(16), "still", 8), Step("next", at(40), "store", 7)]
    here = position(steps, "yard")
    assert (here.stop, here.visited) == ("store", ("yard", "still"))
    assert (here.counted, here.counted_at) == (7, at(40))


def test_steps_count_by_their_times_however_they_arrive() -> None:
    steps = [
        Step("next", at(16), "still"),
        Step("finish", at(90)),
        Step("start", at(0)),
        Step("start", at(2)),
    ]
    results = [position(order, "yard") for order in permutations(steps)]
    assert {(here.started_at, here.finished_at, here.visited) for here in results} == {
        (at(0), at(90), ("yard", "still"))
    }


def test_back_takes_the_last_step_back_and_never_the_start() -> None:
    steps = [Step("start", at(0)), Step("next", at(5), "still"), Step("back", at(6))]
    assert position(steps, "yard").way == [("yard", at(0))]
    assert position([*steps, Step("back", at(7))], "yard").way == [("yard", at(0))]


def test_a_group_on_time_is_not_late() -> None:
    assert far(now=-30).minutes_late == 0
    started = far(Step("start", at(0)), now=3)
    assert (started.walking, started.minutes_left, started.minutes_late) == (True, 10, 0)
    there = far(Step("start", at(0)), now=9)
    assert (there.walking, there.minutes_left, there.minutes_late) == (False, 6, 0)
    assert [visit.slug for visit in there.ahead] == ["yard", "still", "store", "room"]


def test_a_group_that_did_not_start_is_late_by_the_minutes_since() -> None:
    assert far(now=12).minutes_late == 12
    assert not far(now=12).on_walk


def test_a_group_over_its_time_grows_late_minute_by_minute() -> None:
    over = far(Step("start", at(0)), now=20)
    assert (over.minutes_left, over.minutes_late) == (-5, 5)


def test_a_large_group_takes_its_turns_and_a_head_count_its_people() -> None:
    steps = (Step("start", at(0)), Step("next", at(15), "still"))
    assert far(*steps, now=20, people=22).minutes_left == 45
    counted = (steps[0], Step("next", at(15), "still", 9))
    assert (far(*counted, now=20, people=22).minutes_left, far(*counted, now=20, people=22).people) == (15, 9)


def test_a_shortened_tour_makes_its_delay_up() -> None:
    steps = (Step("start", at(12)),)
    assert far(*steps, now=12).minutes_late == 12
    short = with_plan(ROUTE, [("yard", 8), ("still", 10), ("room", 40)])
    assert [stop.slug for stop in short] == ["yard", "still", "room"]
    assert far(*steps, now=12, route=short).minutes_late == 12 - (2 + 5 + 20)


def test_stops_that_were_visited_in_another_order_are_not_to_come() -> None:
    here = far(Step("start", at(0)), Step("next", at(15), "store"), now=16)
    assert [stop.slug for stop in here.left] == ["still", "room"]
    assert [visit.slug for visit in here.ahead] == ["store", "still", "room"]


def test_what_is_over_has_nothing_ahead() -> None:
    assert far(Step("start", at(0)), Step("finish", at(80)), now=81).ahead == ()
    end = stop_times(ROUTE, NINE, 8)[-1].leaves
    minutes = (end - NINE) / timedelta(minutes=1)
    assert far(now=minutes).ahead
    assert not far(now=minutes + 1).ahead
    forgotten = minutes + FORGOTTEN / timedelta(minutes=1)
    assert far(Step("start", at(0)), now=forgotten).ahead
    assert not far(Step("start", at(0)), now=forgotten + 1).ahead


def test_a_house_without_a_route_has_nothing_ahead() -> None:
    assert progress((), (), NINE, [], NINE, 4).ahead == ()
    started = progress((), (), NINE, [Step("start", NINE)], at(5), 4)
    assert (started.position.stop, started.minutes_late) == ("", 0)


def test_a_step_of_a_clock_that_runs_ahead_counts_from_now() -> None:
    assert far(Step("start", at(3)), now=0).walking


def test_a_closed_stop_is_put_off_for_the_nearest_that_is_open() -> None:
    order = detour([STILL, STORE, ROOM], {"still"}, [], at(15), 8)
    assert order is not None
    assert [stop.slug for stop in order] == ["store", "still", "room"]


def test_no_stop_is_brought_before_one_that_it_needs() -> None:
    assert detour([STILL, ROOM], {"still"}, [], at(15), 8) is None


def test_a_stop_that_another_group_holds_is_not_brought_forward() -> None:
    there = Plan("B", stop_times([STORE], at(10), 8))
    assert detour([STILL, STORE, ROOM], {"still"}, [there], at(15), 8) is None
    later = Plan("B", stop_times([STORE], at(60), 8))
    assert detour([STILL, STORE, ROOM], {"still"}, [later], at(15), 8) is not None


def test_a_clash_of_other_groups_alone_is_not_the_group_s_own() -> None:
    others = [Plan(letter, stop_times([STILL], at(0), 8)) for letter in "BC"]
    assert own_clashes(stop_times([STILL], at(60), 8), others) == []
    assert [visit.slug for visit in own_clashes(stop_times([STILL], at(5), 8), others)] == ["still"]


KINDS = st.sampled_from(["start", "next", "back", "count", "out", "finish"])
STEPS = st.builds(
    Step,
    KINDS,
    st.integers(0, 200).map(at),
    st.sampled_from([stop.slug for stop in ROUTE]),
    st.none() | st.integers(0, 30),
)


@given(st.lists(STEPS, max_size=12), st.integers(0, 300), st.integers(0, 40))
def test_any_steps_leave_visits_in_order_and_each_stop_once(steps: list[Step], now: int, people: int) -> None:
    seen = far(*steps, now=now, people=people)
    times = [moment for visit in seen.ahead for moment in (visit.arrives, visit.leaves)]
    assert times == sorted(times)
    slugs = [visit.slug for visit in seen.ahead]
    assert len(slugs) == len(set(slugs))
    assert all(visit.leaves >= at(now) for visit in seen.ahead)


@pytest.mark.parametrize("shut", [set(), {"yard"}, {"still", "store"}, {"room"}])
def test_a_detour_is_what_trying_every_order_gives(shut: set[str]) -> None:
    """Of all orders in which one stop comes forward, the first that is open and lawful."""
    left = list(ROUTE)
    lawful = [
        n
        for n in range(1, len(left))
        if left[n].slug not in shut and not {one.slug for one in left[:n]} & set(left[n].after)
    ]
    order = detour(left, shut, [], NINE, 8)
    assert (order[0] if order else None) == (left[lawful[0]] if lawful else None)
