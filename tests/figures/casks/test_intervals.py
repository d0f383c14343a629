from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, Measure
from kiosk.figures.casks.intervals import intervals, times_between

START = datetime(2020, 1, 1, tzinfo=UTC)
YEAR = timedelta(days=365.25)


def after(years: float) -> datetime:
    return START + years * YEAR


def fill(*gauges: tuple[float, float], events: tuple[Event, ...] = (), wood: str = "") -> Fill:
    taken = tuple(Gauge(after(t), a / 0.6, a, 0.01) for t, a in gauges)
    return Fill("F", "dry", START, taken, events, wood=wood, number=1)


def move(years: float, store: str) -> Event:
    return Event(EventKind.MOVE, after(years), store=store)


def test_time_is_split_at_each_move() -> None:
    moved = fill(events=(move(1.0, "humid"), move(2.5, "dry")))
    assert times_between(moved, after(0.5), after(4.0)) == pytest.approx({"dry": 2.0, "humid": 1.5})
    assert times_between(moved, after(1.0), after(2.0)) == pytest.approx({"humid": 1.0})
    assert times_between(moved, after(4.0), after(4.0)) == {}


def test_an_interval_knows_its_stores_its_first_place_and_its_gauges() -> None:
    first, second = intervals(
        fill((0, 100), (2, 90), (3, 86), events=(move(1.0, "humid"),), wood="oak"),
        "C",
        after(9),
        Measure.ALCOHOL,
    )
    assert first.times == pytest.approx({"dry": 1.0, "humid": 1.0})
    assert second.times == pytest.approx({"humid": 1.0})
    assert (first.group, second.group) == (("oak", 1), None)
    assert first.variance == pytest.approx(2e-4)
    assert first.log_loss({}, 0.0) == pytest.approx(math.log(100 / 90))


@given(
    st.floats(-0.15, 0.2),
    st.floats(-0.15, 0.2),
    st.floats(0.0, 0.05),
    st.lists(st.tuples(st.floats(0.01, 2.99), st.floats(-10.0, 10.0)), max_size=5),
    st.floats(0.1, 2.9),
)
def test_the_loss_that_made_an_interval_is_found_through_draws_toppings_and_a_move(
    dry: float, humid: float, soaked: float, flows: list[tuple[float, float]], moved: float
) -> None:
    """Step by step forward with the true rates; then solved back."""
    amount, time = 100.0 * math.exp(-soaked), 0.0
    events = [move(moved, "humid")]
    for at, litres in sorted([*flows, (moved, 0.0), (3.0, 0.0)]):
        amount *= math.exp(-(dry if at <= moved else humid) * (at - time)) if at > time else 1.0
        amount -= litres
        time = at
        kind = EventKind.SAMPLE if litres >= 0.0 else EventKind.TOPPING
        if litres:
            events.append(Event(kind, after(at), abs(litres), abs(litres)))
    (found,) = intervals(fill((0, 100), (3, amount), events=tuple(events)), "C", after(3), Measure.ALCOHOL)
    lost = dry * moved + humid * (3.0 - moved)
    assert found.log_loss({"dry": dry, "humid": humid}, soaked) == pytest.approx(lost + soaked, abs=1e-6)


@pytest.mark.parametrize(
    "spoilt",
    [
        fill((0, 100), (1, 50), events=(Event(EventKind.LEAK, after(0.5)),)),
        fill((0, 100), (1, 120), events=(Event(EventKind.TOPPING, after(0.5)),)),
        fill((0, 100), (1, 0)),
        fill((0, 100)),
        fill((0, 50), (1, 40), events=(Event(EventKind.TRANSFER, after(0.5), 90.0, 60.0),)),
    ],
)
def test_an_interval_that_cannot_tell_is_left_out(spoilt: Fill) -> None:
    assert intervals(spoilt, "C", after(9), Measure.ALCOHOL) == []


def test_a_retired_cask_takes_nothing_by_that() -> None:
    retired = fill((0, 100), (1, 94), events=(Event(EventKind.RETIRED, after(0.5)),))
    assert len(intervals(retired, "C", after(9), Measure.ALCOHOL)) == 1
