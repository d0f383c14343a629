from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, How, Measure
from kiosk.figures.casks.gauging import Verdict, change, changes, gauged
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal

START = datetime(2024, 1, 1, tzinfo=UTC)


def day(n: float) -> datetime:
    return START + timedelta(days=n)


def fill(*gauges: Gauge, events: tuple[Event, ...] = ()) -> Fill:
    return Fill("F", "dry", START, gauges, events)


def test_a_dip_is_as_sure_as_its_volume_and_its_strength_together() -> None:
    """1 L in 190 and 0.2 in 62 % vol (common practice), added as squares."""
    found = gauged(START, 190.0, 117.8, How.DIP)
    assert found.relative_uncertainty == pytest.approx(math.hypot(1 / 190, 0.2 / 62))
    assert found.uncertainty(Measure.VOLUME) == pytest.approx(1 / 190)
    assert found.uncertainty_l(Measure.VOLUME) == pytest.approx(1.0)


def test_what_was_drawn_out_and_measured_is_surest_and_a_dip_least_sure() -> None:
    sure = [
        gauged(START, 190.0, 117.8, how).relative_uncertainty for how in (How.EMPTIED, How.WEIGHT, How.DIP)
    ]
    assert sure == sorted(sure)
    assert len(set(sure)) == 3


def test_a_gauge_that_does_not_say_how_is_equally_sure_of_both() -> None:
    plain = Gauge(START, 190.0, 117.8, 0.01)
    assert (plain.uncertainty(Measure.VOLUME), plain.uncertainty(Measure.ALCOHOL)) == (0.01, 0.01)


# Two honest dips of 190 L at 62 % vol, at 6 % a year: 28 of 100 monthly and 4 of 100
# quarterly pairs show a gain (computed from the normal distribution).
@pytest.mark.parametrize(("pairs_a_year", "gains_in_100"), [(12, 28), (4, 4)])
def test_honest_gauges_show_a_gain_as_often_as_their_uncertainty_says(
    pairs_a_year: int, gains_in_100: int
) -> None:
    u = gauged(START, 190.0, 117.8, How.DIP).relative_uncertainty
    loss = 0.06 / pairs_a_year
    assert round(50.0 * math.erfc(loss / (u * math.sqrt(2.0)) / math.sqrt(2.0))) == gains_in_100


def test_a_gain_is_named_only_beyond_two_standard_uncertainties_of_the_difference() -> None:
    first = Gauge(day(0), 200.0, 100.0, 0.006)
    allowed = 2.0 * math.hypot(0.6, 0.006 * 101.0)
    assert change(fill(), first, Gauge(day(30), 200.0, 101.0, 0.006)).allowed_l == pytest.approx(allowed)
    said = [
        change(fill(), first, Gauge(day(30), 200.0, litres, 0.006)).verdict
        for litres in (99.0, 100.0, 100.1, 101.69, 101.8)
    ]
    within, gain = Verdict.WITHIN_GAUGE, Verdict.GAIN
    assert said == [Verdict.LOSS, Verdict.LOSS, within, within, gain]


def test_a_gain_of_just_the_allowance_passes() -> None:
    found = change(fill(), Gauge(day(0), 200.0, 100.0, 0.0), Gauge(day(30), 200.0, 125.0, 0.1))
    assert (found.gain_l, found.allowed_l, found.verdict) == (25.0, 25.0, Verdict.WITHIN_GAUGE)


def test_what_was_drawn_is_added_back_and_what_was_added_taken_off() -> None:
    events = (
        Event(EventKind.SAMPLE, day(5), 2.0, 1.2),
        Event(EventKind.LEAK, day(6), 5.0, 3.0),
        Event(EventKind.TOPPING, day(7), 20.0, 12.0),
        Event(EventKind.MOVE, day(8), store="humid"),
    )
    found = change(fill(events=events), Gauge(day(0), 200.0, 120.0), Gauge(day(30), 213.0, 128.0))
    assert found.gain_l == pytest.approx(128.0 - 120.0 + 1.2 + 3.0 - 12.0)
    assert found.certain
    volume = change(
        fill(events=events), Gauge(day(0), 200.0, 120.0), Gauge(day(30), 214.0, 128.0), Measure.VOLUME
    )
    assert volume.gain_l == pytest.approx(1.0)


def test_an_unmeasured_leak_makes_a_change_uncertain() -> None:
    leaked = fill(events=(Event(EventKind.LEAK, day(5)),))
    assert not change(leaked, Gauge(day(0), 200.0, 120.0), Gauge(day(30), 190.0, 110.0)).certain


def test_every_pair_of_neighbours_is_told_in_order() -> None:
    gauges = (Gauge(day(0), 200.0, 120.0), Gauge(day(60), 190.0, 117.0), Gauge(day(30), 195.0, 125.0))
    found = changes(fill(*gauges), day(60))
    assert [round(each.gain_l) for each in found] == [5, -8]
    assert [each.verdict for each in found] == [Verdict.GAIN, Verdict.LOSS]
    assert changes(fill(*gauges), day(40))[-1].second.at == day(30)


@given(st.floats(1.0, 500.0), st.floats(0.01, 1.0), st.sampled_from(How))
def test_a_gauges_uncertainty_is_never_less_than_its_volumes(volume: float, part: float, how: How) -> None:
    found = gauged(START, volume, volume * part, how)
    assert found.relative_uncertainty > found.uncertainty(Measure.VOLUME) > 0.0


def test_a_cask_gauged_empty_has_no_relative_uncertainty() -> None:
    empty = gauged(START, 0.0, 0.0, How.EMPTIED)
    assert (empty.relative_uncertainty, empty.volume_uncertainty) == (0.0, 0.0)
    water = gauged(START, 190.0, 0.0, How.DIP)
    assert (water.relative_uncertainty, water.uncertainty_l(Measure.VOLUME)) == (0.0, pytest.approx(1.0))


@pytest.mark.parametrize(
    ("volume", "alcohol", "field", "reason"),
    [
        (-1.0, 0.0, "volume_l", "out_of_range"),
        (1.0, -1.0, "pure_alcohol_l", "out_of_range"),
        (1.0, 1.1, "pure_alcohol_l", "above_pure"),
        (math.nan, 0.0, "volume_l", "out_of_range"),
    ],
)
def test_an_impossible_gauge_is_refused(volume: float, alcohol: float, field: str, reason: str) -> None:
    with pytest.raises(FigureError) as caught:
        gauged(START, volume, alcohol, How.DIP)
    assert (caught.value.field, caught.value.reason) == (field, reason)


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: gauged(START, -1e-9, 0.0, How.DIP), "volume_l", Bounds(0, unit="L")),
    (lambda: gauged(START, 1.0, -1e-9, How.DIP), "pure_alcohol_l", Bounds(0, unit="L")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_more_alcohol_than_volume_is_refused_and_as_much_is_pure_alcohol() -> None:
    assert refusal(lambda: gauged(START, 100.0, 100.001, How.DIP)) == (
        "pure_alcohol_l",
        "above_pure",
        Bounds(0, 100, "L"),
    )
    assert gauged(START, 100.0, 100.0, How.DIP).alcohol_l == 100.0


def test_an_empty_cask_and_one_of_water_have_no_strength_to_be_unsure_of() -> None:
    empty, water = gauged(START, 0.0, 0.0, How.DIP), gauged(START, 100.0, 0.0, How.DIP)
    assert (empty.relative_uncertainty, empty.volume_uncertainty) == (0.0, 0.0)
    assert (water.relative_uncertainty, water.volume_uncertainty) == (0.0, pytest.approx(0.01))
