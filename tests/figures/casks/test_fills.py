from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.casks.fills import GAUGE_UNCERTAINTY, Event, EventKind, Fill, Gauge, Measure, years

START = datetime(2020, 1, 1, tzinfo=UTC)


def day(n: int) -> datetime:
    return START + timedelta(days=n)


def test_gauges_and_events_come_in_the_order_of_time() -> None:
    gauges = (Gauge(day(9), 1.0, 1.0), Gauge(day(0), 2.0, 2.0), Gauge(day(20), 3.0, 3.0))
    events = (Event(EventKind.SAMPLE, day(9)), Event(EventKind.SAMPLE, day(0)), Event(EventKind.LEAK, day(5)))
    fill = Fill("F", "dry", START, gauges, events)
    assert [g.at for g in fill.gauges_until(day(9))] == [day(0), day(9)]
    assert [e.at for e in fill.events_between(day(0), day(9))] == [day(0), day(5)]
    assert [e.at for e in fill.events_since(day(0), day(9))] == [day(0), day(5), day(9)]


def test_a_fill_lies_where_it_was_last_moved() -> None:
    moves = (Event(EventKind.MOVE, day(9), store="c"), Event(EventKind.MOVE, day(5), store="b"))
    fill = Fill("F", "a", START, (), moves)
    assert [fill.store_at(day(n)) for n in (0, 4, 5, 8, 9, 99)] == ["a", "a", "b", "b", "c", "c"]


def test_amounts_are_asked_by_measure() -> None:
    gauge, event = Gauge(START, 200.0, 120.0), Event(EventKind.SAMPLE, START, 1.0, None)
    assert (gauge.amount(Measure.VOLUME), gauge.amount(Measure.ALCOHOL)) == (200.0, 120.0)
    assert (event.amount(Measure.VOLUME), event.amount(Measure.ALCOHOL)) == (1.0, None)


def test_how_sure_a_gauge_is_goes_by_measure_and_in_litres() -> None:
    own, same = Gauge(START, 200.0, 120.0, 0.01, 0.002), Gauge(START, 200.0, 120.0, 0.01)
    for gauge, volume, alcohol in ((own, 0.002, 0.01), (same, 0.01, 0.01)):
        assert gauge.uncertainty(Measure.VOLUME) == volume
        assert gauge.uncertainty(Measure.ALCOHOL) == alcohol
        assert gauge.uncertainty_l(Measure.VOLUME) == pytest.approx(200.0 * volume)
        assert gauge.uncertainty_l(Measure.ALCOHOL) == pytest.approx(120.0 * alcohol)


@pytest.mark.parametrize(
    ("wood", "number", "group"),
    [("oak", 1, ("oak", 1)), ("oak", 2, ("oak", 2)), ("oak", 0, None), ("", 1, None)],
)
def test_a_fill_drinks_with_its_wood_and_number_where_both_are_known(
    wood: str, number: int, group: tuple[str, int] | None
) -> None:
    assert Fill("F", "a", START, wood=wood, number=number).group == group


def test_a_gauges_usual_uncertainty() -> None:
    """1 L in 190 L and 0.2 in 62 % vol (common practice), added as squares."""
    assert pytest.approx(math.hypot(1 / 190, 0.2 / 62), abs=5e-5) == GAUGE_UNCERTAINTY


def test_four_years_with_a_leap_day_are_four_years() -> None:
    assert years(START, datetime(2024, 1, 1, tzinfo=UTC)) == pytest.approx(4.0)
