from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from kiosk.figures.casks.contents import contents_now, next_gauge_due, strength_now
from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, How, Measure
from kiosk.figures.casks.gauging import gauged
from kiosk.figures.casks.loss_rates import Fit, LossRate, Soakage
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal

START = datetime(2020, 1, 1, tzinfo=UTC)
YEAR = timedelta(days=365.25)
NONE = Fit({}, {})


def after(years: float) -> datetime:
    return START + years * YEAR


def rate(per_year: float, half: float = 0.0, spread: float = 0.0) -> LossRate:
    return LossRate(per_year, per_year - half, per_year + half, spread, 10, 30.0)


def fill(*gauges: Gauge, events: tuple[Event, ...] = (), wood: str = "", store: str = "dry") -> Fill:
    return Fill("F", store, START, gauges, events, wood=wood, number=1)


FLOWS = st.lists(
    st.tuples(
        st.floats(0.0, 4.0),
        st.sampled_from([EventKind.SAMPLE, EventKind.LEAK, EventKind.TOPPING, EventKind.MOVE]),
        st.floats(0.0, 15.0),
    ),
    max_size=6,
)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.0, 0.15), st.floats(0.0, 0.15), FLOWS, st.floats(0.05, 4.0))
def test_contents_are_what_numerical_integration_finds(
    dry: float, humid: float, flows: list[tuple[float, EventKind, float]], when: float
) -> None:
    """dA/dt = -k A by scipy's Runge-Kutta, piece by piece between what happened."""
    flows = sorted(flows, key=lambda flow: flow[0])
    events = tuple(
        Event(kind, after(at), litres, litres, "humid" if kind is EventKind.MOVE else "")
        for at, kind, litres in flows
    )
    found = contents_now(
        fill(Gauge(START, 200.0, 120.0), events=events), after(when), {"dry": rate(dry), "humid": rate(humid)}
    )
    amount, k, time = 120.0, dry, 0.0
    for at, kind, litres in [*(flow for flow in flows if flow[0] <= when), (when, EventKind.RETIRED, 0.0)]:
        if at > time:
            amount = solve_ivp(lambda _, a, k=k: -k * a, (time, at), [amount], rtol=1e-10, atol=1e-10).y[
                0, -1
            ]
        time = at
        if kind is EventKind.MOVE:
            k = humid
        elif kind is not EventKind.RETIRED:
            amount = max(amount + (litres if kind is EventKind.TOPPING else -litres), 0.0)
    assert found.amount_l == pytest.approx(amount, abs=1e-5)


# (1 - loss)^years, computed: 2 % for 12 years leaves 78.5 %, 8 % for 12 years 36.8 %.
@pytest.mark.parametrize(("loss", "left"), [(0.02, 78.5), (0.08, 36.8)])
def test_losses_compound(loss: float, left: float) -> None:
    found = contents_now(fill(Gauge(START, 200.0, 100.0)), after(12), {"dry": rate(-math.log(1.0 - loss))})
    assert found.amount_l == pytest.approx(left, abs=0.05)


def test_the_last_half_litre_is_told_and_an_emptied_cask_is_surely_empty() -> None:
    heel = fill(Gauge(START, 1.0, 0.5))
    assert contents_now(heel, after(1), {"dry": rate(0.06)}).amount_l == pytest.approx(0.5 * math.exp(-0.06))
    emptied = Fill("F", "dry", START, (Gauge(START, 200.0, 120.0),), emptied_at=after(1))
    found = contents_now(emptied, after(1), {"dry": rate(0.06)})
    assert (found.amount_l, found.low_l, found.high_l, found.estimated) == (0.0, 0.0, 0.0, False)


# What the wood drinks

OAK = {("oak", 1): Soakage(-math.log(0.98), 0.0, 0.0, 10)}


def test_after_the_first_gauge_the_wood_drinks_at_once() -> None:
    new = fill(Gauge(START, 200.0, 100.0), wood="oak")
    found = contents_now(new, after(1), {"dry": rate(0.06)}, soakages=OAK)
    assert found.amount_l == pytest.approx(98.0 * math.exp(-0.06))
    assert contents_now(new, START, {"dry": rate(0.06)}, soakages=OAK).amount_l == 100.0


def test_a_later_gauge_has_that_behind_it() -> None:
    regauged = fill(Gauge(START, 200.0, 100.0), Gauge(after(1), 190.0, 92.0), wood="oak")
    found = contents_now(regauged, after(2), {"dry": rate(0.06)}, soakages=OAK)
    assert found.amount_l == pytest.approx(92.0 * math.exp(-0.06))


def test_wood_that_nobody_named_is_not_guessed() -> None:
    found = contents_now(fill(Gauge(START, 200.0, 100.0)), after(1), {"dry": rate(0.06)}, soakages=OAK)
    assert found.amount_l == pytest.approx(100.0 * math.exp(-0.06))


def test_the_interval_holds_how_surely_the_wood_drinks() -> None:
    """A = 100 e^-s e^-k: dA/ds = -A; 1.6449 is the normal's 95 % point."""
    exact = fill(Gauge(START, 200.0, 100.0, 0.0), wood="oak")
    unsure = {("oak", 1): Soakage(0.02, 0.004, 0.003, 10)}
    found = contents_now(exact, after(1), {"dry": rate(0.06)}, soakages=unsure)
    half = (found.high_l - found.low_l) / 2.0
    assert half == pytest.approx(100.0 * math.exp(-0.08) * math.hypot(0.004, 1.6449 * 0.003))


# Strength


def strength(alcohol: float, volume: float, years: float = 3.0, gauge: Gauge | None = None) -> float:
    cask = fill(gauge or Gauge(START, 200.0, 120.0))
    fits = Fit({"dry": rate(alcohol)}, {}), Fit({"dry": rate(volume)}, {})
    return strength_now(cask, after(years), *fits).abv_percent


def test_strength_rises_in_a_dry_store_and_falls_in_a_humid_one() -> None:
    """Russell (ed.), Whisky: Technology, Production and Marketing (2003), ch. 7: water goes, or ethanol."""
    assert strength(alcohol=0.05, volume=0.07) == pytest.approx(60.0 * math.exp(0.06))
    assert strength(alcohol=0.05, volume=0.04) == pytest.approx(60.0 * math.exp(-0.03))


def test_a_sample_does_not_change_the_strength() -> None:
    cask = fill(Gauge(START, 200.0, 120.0), events=(Event(EventKind.SAMPLE, START, 10.0, 6.0),))
    assert strength_now(cask, START, NONE, NONE).abv_percent == pytest.approx(60.0)


def test_a_topping_with_weaker_spirit_weakens() -> None:
    cask = fill(Gauge(START, 150.0, 90.0), events=(Event(EventKind.TOPPING, START, 50.0, 20.0),))
    assert strength_now(cask, START, NONE, NONE).abv_percent == pytest.approx(55.0)


def test_of_the_gauge_only_the_strength_counts() -> None:
    """A dip is unsure by 1 L, which cancels; the 0.2 % vol remain, times 1.6449 for 90 %."""
    dipped = fill(gauged(START, 190.0, 117.8, How.DIP))
    found = strength_now(dipped, START, NONE, NONE)
    assert found.abv_percent == pytest.approx(62.0)
    assert (found.high - found.low) / 2.0 == pytest.approx(1.6449 * 0.2)


def test_the_two_fits_widen_a_strength() -> None:
    exact = fill(Gauge(START, 200.0, 100.0, 0.0))
    fits = Fit({"dry": rate(0.06, half=0.003)}, {}), Fit({"dry": rate(0.06, half=0.004)}, {})
    found = strength_now(exact, after(2), *fits)
    assert (found.high - found.low) / 2.0 == pytest.approx(50.0 * math.hypot(0.006, 0.008))


def test_a_strength_stays_between_water_and_pure_alcohol() -> None:
    strong = strength_now(fill(Gauge(START, 100.0, 99.5, 0.01)), START, NONE, NONE)
    assert (strong.abv_percent, strong.high) == (pytest.approx(99.5), 100.0)
    weak = strength_now(fill(Gauge(START, 100.0, 1.0, 0.9)), START, NONE, NONE)
    assert (weak.abv_percent, weak.low) == (pytest.approx(1.0), 0.0)
    assert strength(alcohol=0.0, volume=0.2, years=5.0) == 100.0


@pytest.mark.parametrize("cask", [fill(), fill(Gauge(START, 0.0, 0.0)), fill(Gauge(START, 9.0, 0.0))])
def test_an_empty_or_unknown_cask_has_no_strength(cask: Fill) -> None:
    with pytest.raises(FigureError) as caught:
        strength_now(cask, after(1), NONE, NONE)
    assert caught.value.reason == "too_few"


def test_a_strength_says_when_a_rate_is_missing() -> None:
    cask = fill(Gauge(START, 200.0, 120.0))
    assert not strength_now(cask, after(1), NONE, Fit({"dry": rate(0.06)}, {})).rated
    assert not strength_now(cask, after(1), Fit({"dry": rate(0.06)}, {}), NONE).rated


# The next gauge

HALF_A_YEAR = YEAR / 2


def test_the_next_gauge_is_due_so_long_after_the_last() -> None:
    cask = fill(Gauge(START, 200.0, 120.0), Gauge(after(1), 190.0, 113.0))
    assert next_gauge_due(cask, after(1.2), HALF_A_YEAR) == after(1.5)
    assert next_gauge_due(fill(), after(0.1), HALF_A_YEAR) == after(0.5)


def test_an_empty_cask_is_due_for_nothing() -> None:
    emptied = Fill("F", "dry", START, (Gauge(START, 200.0, 120.0),), emptied_at=after(1))
    assert next_gauge_due(emptied, after(2), HALF_A_YEAR) is None
    assert next_gauge_due(emptied, after(1), HALF_A_YEAR) is None
    assert next_gauge_due(emptied, after(0.5), HALF_A_YEAR) == after(0.5)


@pytest.mark.parametrize(
    ("event", "due"),
    [
        (Event(EventKind.LEAK, after(0.1)), after(0.1)),
        (Event(EventKind.TOPPING, after(0.2)), after(0.2)),
        (Event(EventKind.SAMPLE, after(0.1), 1.0, 0.6), after(0.5)),
        (Event(EventKind.MOVE, after(0.1), store="humid"), after(0.5)),
    ],
)
def test_what_nobody_measured_asks_for_a_gauge_at_once(event: Event, due: datetime) -> None:
    cask = fill(Gauge(START, 200.0, 120.0), events=(event,))
    assert next_gauge_due(cask, after(0.3), HALF_A_YEAR) == due


def test_a_gauge_is_due_when_the_estimate_grows_too_wide() -> None:
    """Half-width 0.01 a year and an exact gauge: 0.5 % of what is there is reached after half a year."""
    cask = fill(Gauge(START, 200.0, 120.0, 0.0))
    fit = Fit({"dry": rate(0.06, half=0.01)}, {})
    due = next_gauge_due(cask, START, 5 * YEAR, fit, widest=0.005)
    assert due is not None
    assert abs(due - after(0.5)) <= timedelta(hours=1)
    assert next_gauge_due(cask, START, HALF_A_YEAR, fit, widest=0.02) == after(0.5)


def test_a_width_of_nothing_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        next_gauge_due(fill(), START, HALF_A_YEAR, widest=0.0)
    assert caught.value.field == "widest"


def test_bulk_volume_is_due_by_its_own_records() -> None:
    cask = fill(Gauge(START, 200.0, 120.0), events=(Event(EventKind.SAMPLE, after(0.1), None, 0.6),))
    assert next_gauge_due(cask, after(0.3), HALF_A_YEAR) == after(0.5)
    assert next_gauge_due(cask, after(0.3), HALF_A_YEAR, measure=Measure.VOLUME) == after(0.1)


def test_a_width_is_above_nothing() -> None:
    for widest in (0.0, -0.1):
        call: Call = lambda widest=widest: next_gauge_due(fill(), START, HALF_A_YEAR, widest=widest)  # noqa: E731
        assert refusal(call) == ("widest", "out_of_range", Bounds(0, above=True))


def test_the_interval_of_a_content_by_hand() -> None:
    """Gauge 0.5 %, rate 0.06 +- 0.004, casks spread by 0.01: half-widths in squares, 1.6449 for 90 %."""
    cask = fill(Gauge(START, 200.0, 100.0, 0.005))
    found = contents_now(cask, after(2), {"dry": rate(0.06, half=0.004, spread=0.01)})
    there = 100.0 * math.exp(-0.12)
    half = math.sqrt((2 * there * 0.004) ** 2 + 1.6449**2 * ((2 * there * 0.01) ** 2 + (there * 0.005) ** 2))
    assert (found.low_l, found.high_l) == (pytest.approx(there - half), pytest.approx(there + half))
    assert (found.gauged_at, found.estimated, found.rated) == (START, True, True)
    at_once = contents_now(cask, START, {"dry": rate(0.06)})
    assert (at_once.estimated, at_once.amount_l) == (False, 100.0)
    assert not contents_now(cask, after(1), {}).rated


def test_a_content_is_never_below_nothing() -> None:
    unsure = fill(Gauge(START, 200.0, 100.0, 0.9))
    assert contents_now(unsure, START, {}).low_l == 0.0


def test_an_estimate_that_is_too_wide_is_found_to_the_hour() -> None:
    cask = fill(Gauge(START, 200.0, 120.0, 0.0))
    fit = Fit({"dry": rate(0.06, half=0.01)}, {})
    due = next_gauge_due(cask, START, timedelta(hours=8 * 365), fit, widest=0.001)
    assert due is not None
    # The half-width is 0.01 a year: 0.1 % is reached after 0.1 years, 876.6 hours.
    assert timedelta(hours=876.6) < due - START <= timedelta(hours=877.6)


def test_an_estimate_is_searched_no_finer_than_the_hour() -> None:
    """The half-width is 0.01 a year: 0.101 % is reached after 885.4 of 2 048 hours."""
    cask = fill(Gauge(START, 200.0, 120.0, 0.0))
    fit = Fit({"dry": rate(0.06, half=0.01)}, {})
    due = next_gauge_due(cask, START, timedelta(hours=2048), fit, widest=0.00101)
    assert due == START + timedelta(hours=886)
