from __future__ import annotations

import math
import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.stats import t as student

from kiosk.figures import making as w
from kiosk.figures.errors import FigureError
from kiosk.figures.making.fermentation import (
    _SHAPES,
    CANNOT_BE,
    DONE_BRIX,
    READING_BRIX,
    WashReading,
    _crossing,
    _End,
    _joined,
    forecast_end,
    progress,
)

START = datetime(2026, 6, 16, 9, 30, tzinfo=UTC)
LEFT = Callable[[float], float]
"""What is left to ferment, 1 to 0, by the hours since setting."""


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def hours(moment: datetime) -> float:
    return (moment - START) / timedelta(hours=1)


def wash(*brix_by_hour: tuple[float, float]) -> list[WashReading]:
    return [WashReading(at(h), w.specific_gravity(degrees)) for h, degrees in brix_by_hour]


FALLING = wash((0, 16.0), (6, 14.5), (21, 9.0), (30, 6.0), (45, 2.5))


def test_progress_is_the_latest_reading_against_the_first() -> None:
    found = progress(FALLING)
    assert found.at == at(45)
    assert found.brix == pytest.approx(2.5)
    assert found.abv_percent == w.wash_abv_percent(FALLING[0].gravity, FALLING[-1].gravity)
    assert found.apparent_attenuation_percent == pytest.approx(100 * (16.0 - 2.5) / 16.0)
    assert found.real_attenuation_percent == pytest.approx(0.8192 * found.apparent_attenuation_percent)
    assert found.falling_brix_per_h == pytest.approx(3.5 / 15.0)


def test_progress_minds_no_order() -> None:
    assert progress(reversed(FALLING)) == progress(FALLING)


def test_a_wash_just_set_has_made_nothing_and_has_no_pace() -> None:
    found = progress(FALLING[:1])
    assert (found.abv_percent, found.falling_brix_per_h) == (pytest.approx(0.0, abs=1e-12), None)


def test_a_hydrometer_a_hair_above_the_first_says_that_nothing_has_fermented() -> None:
    found = progress(wash((0, 16.0), (6, 16.1)))
    assert found.abv_percent == pytest.approx(0.0, abs=1e-12)
    assert found.brix == pytest.approx(16.1)


def test_two_looks_at_one_moment_have_no_pace() -> None:
    assert progress(wash((0, 16.0), (0, 15.9))).falling_brix_per_h is None


END = w.specific_gravity(-0.5)


def regular(left: LEFT, until_h: float, every_h: float = 6.0) -> list[WashReading]:
    """Readings without error, from 16 °Bx down to -0.5."""
    times = [h * every_h for h in range(int(until_h / every_h) + 1)]
    return wash(*((t, -0.5 + 16.5 * left(t)) for t in times))


def end_of(left: LEFT) -> float:
    return next(h / 10 for h in range(10_000) if 16.5 * left(h / 10) <= DONE_BRIX)


@pytest.mark.parametrize(
    "left",
    [
        lambda t: math.exp(-t / 20.0),
        lambda t: 1.0 / (1.0 + math.exp((t - 30.0) / 7.0)) * (1.0 + math.exp(-30.0 / 7.0)),
        lambda t: max(0.0, 1.0 - t / 60.0),
    ],
    ids=["slowing", "s-shaped", "steady"],
)
def test_a_wash_that_falls_as_a_fitted_shape_does_ends_when_forecast(left: LEFT) -> None:
    found = forecast_end(regular(left, 48.0), END)
    assert not found.ended
    # The other shapes weigh in as long as the readings do not rule them out.
    assert hours(found.ends_at) == pytest.approx(end_of(left), rel=0.05)
    assert found.latest is not None
    assert found.earliest <= at(end_of(left)) <= found.latest


def test_a_forecast_minds_no_order() -> None:
    readings = regular(lambda t: math.exp(-t / 20.0), 48.0)
    assert forecast_end(readings[::-1], END) == forecast_end(readings, END)


def test_readings_that_scatter_widen_the_interval() -> None:
    quiet = regular(lambda t: math.exp(-t / 20.0), 48.0)
    noisy = [
        WashReading(r.at, w.specific_gravity(w.brix(r.gravity) + (0.4 if i % 2 else -0.4)))
        for i, r in enumerate(quiet)
    ]
    one, other = forecast_end(quiet, END), forecast_end(noisy, END)
    assert one.latest is not None
    assert other.latest is None or other.latest - other.earliest > 1.3 * (one.latest - one.earliest)


def test_an_end_lies_never_before_the_last_reading() -> None:
    stalling = wash((0, 16.0), (20, 8.0), (30, 3.0), (40, 0.4), (60, 0.2), (80, 0.1), (100, 0.05))
    found = forecast_end(stalling, END)
    assert found.ends_at >= at(100)
    assert found.earliest >= at(100)


def test_a_fall_too_small_for_its_scatter_has_no_latest_end() -> None:
    hesitating = wash((0, 16.0), (20, 8.0), (24, 8.2), (28, 7.4), (32, 7.6))
    found = forecast_end(hesitating, END)
    assert found.latest is None
    assert found.ends_at > at(32)


def test_a_wash_that_has_stopped_high_has_no_end() -> None:
    stuck = wash((0, 16.0), (20, 8.0), (40, 6.0), (50, 6.1), (60, 5.9), (70, 6.05), (80, 5.95), (90, 5.98))
    with pytest.raises(FigureError) as caught:
        forecast_end(stuck, END)
    assert caught.value.reason == "not_falling"


def test_a_wash_that_does_not_fall_is_told() -> None:
    with pytest.raises(FigureError) as caught:
        forecast_end(wash((0, 16.0), (10, 10.0), (20, 10.2), (30, 10.4), (40, 10.6)), END)
    assert caught.value.reason == "not_falling"


def test_an_end_that_was_read_is_between_two_readings() -> None:
    found = forecast_end(wash((0, 16.0), (20, 8.0), (40, 0.7), (60, -0.5)), END)
    assert found.ended
    assert (found.earliest, found.latest) == (at(40), at(60))
    # 0.7 down to -0.5 °Bx in 20 hours crosses -0.3 after 1.0 of 1.2.
    assert hours(found.ends_at) == pytest.approx(40.0 + 20.0 * 1.0 / 1.2)


def test_an_end_can_be_read_with_the_second_reading() -> None:
    found = forecast_end(wash((0, 16.0), (66, -0.5)), END)
    assert (found.ended, found.latest) == (True, at(66))


def test_a_later_rise_does_not_undo_an_end() -> None:
    assert forecast_end(wash((0, 16.0), (40, 2.0), (60, -0.5), (70, 0.5)), END).ended


@pytest.mark.parametrize("n", [0, 1, 2, 3])
def test_too_few_readings_are_told(n: int) -> None:
    """The reading at setting is where the way begins: three more are wanted."""
    with pytest.raises(FigureError) as caught:
        forecast_end(FALLING[:n], END)
    assert (caught.value.field, caught.value.reason) == ("readings", "too_few")


def test_three_readings_on_the_way_down_are_enough() -> None:
    assert forecast_end(FALLING[:4], END).ends_at > at(30)


def test_progress_wants_one_reading() -> None:
    with pytest.raises(FigureError) as caught:
        progress([])
    assert caught.value.reason == "too_few"


@pytest.mark.parametrize("end", [w.specific_gravity(15.7), 1.07])
def test_an_end_above_the_beginning_is_refused(end: float) -> None:
    with pytest.raises(FigureError) as caught:
        forecast_end(FALLING, end)
    assert (caught.value.field, caught.value.reason) == ("original_gravity", "out_of_range")


def stretched(rng: random.Random) -> LEFT:
    """A stretched exponential."""
    scale, power = rng.uniform(25, 45), rng.uniform(1.0, 1.6)
    return lambda t: math.exp(-((t / scale) ** power))


def gompertz(rng: random.Random) -> LEFT:
    """A curve that starts slowly and ends more slowly still."""
    rate, middle = rng.uniform(0.05, 0.1), rng.uniform(10, 24)
    whole = 1 - math.exp(-math.exp(rate * middle))
    return lambda t: (1 - math.exp(-math.exp(-rate * (t - middle)))) / whole


def growing_yeast(rng: random.Random) -> LEFT:
    """Monod's kinetics with cells that grow and are slowed by the alcohol that they make."""
    fastest, half, cells = rng.uniform(0.10, 0.22), rng.uniform(0.02, 0.10), rng.uniform(0.03, 0.10)
    cost = rng.uniform(0.6, 0.96)

    def change(_t: float, state: list[float]) -> list[float]:
        sugar, yeast = max(state[0], 0.0), state[1]
        pace = fastest * sugar / (half + sugar) * max(0.02, 1 - (1 - sugar) / 1.25) * yeast
        return [-cost * pace, 0.55 * pace]

    course = solve_ivp(change, (0, 400), [1.0, cells], dense_output=True, rtol=1e-7).sol
    return lambda t: float(course(t)[0])


def inside(rng: random.Random, left: LEFT, read_until: float) -> bool | None:
    """Say whether the true end lies in the interval; None where no forecast could be made."""
    begin, end = rng.uniform(14, 20), w.brix(rng.uniform(0.9975, 0.9985))
    truth = next((h / 4 for h in range(1600) if left(h / 4) * (begin - end) <= DONE_BRIX), None)
    if truth is None:
        return None
    rounds = [24 * day + hour for day in range(8) for hour in (0, 6, 21)]
    read = [
        (t, max(end + (begin - end) * left(t) + rng.gauss(0, READING_BRIX), -2.9))
        for t in rounds
        if t <= read_until * truth
    ]
    try:
        found = forecast_end(wash(*read), w.specific_gravity(end))
    except FigureError:
        return None
    latest = math.inf if found.latest is None else hours(found.latest)
    return hours(found.earliest) - 0.3 <= truth <= latest + 0.3


@pytest.mark.parametrize("read_until", [0.5, 0.8])
@pytest.mark.parametrize("kind", [stretched, gompertz, growing_yeast], ids=lambda kind: kind.__name__)
def test_washes_of_other_kinds_end_within_the_interval_about_as_often_as_it_claims(
    kind: Callable[[random.Random], LEFT], read_until: float
) -> None:
    """None of the three is a fitted shape. 80 washes: 90 % less two and a half standard errors is 82 %."""
    rng = random.Random(20260616)
    told = [found for _ in range(80) if (found := inside(rng, kind(rng), read_until)) is not None]
    assert len(told) >= 40
    assert sum(told) / len(told) >= 0.82


def fitted_by_numpy(
    readings: list[tuple[float, float]], done: float, straight: LEFT, steepness: LEFT, spread: float
) -> tuple[float, float, float]:
    """A weighted line by numpy's own fit, and where its 90 % band crosses the end, found by search."""
    t, x = np.array(readings).T
    y = np.array([straight(one) for one in x])
    sure = 1.0 / (spread * np.array([steepness(one) for one in x]))
    line, cov = np.polyfit(t, y, 1, w=sure, cov="unscaled")
    misses = float(np.sum((sure * (y - np.polyval(line, t))) ** 2))
    scale = max(1.0, misses / (len(t) - 2)) * student.ppf(0.95, len(t) - 2) ** 2

    def beyond(hour: float) -> float:
        band = scale * (cov[0, 0] * hour**2 + 2 * cov[0, 1] * hour + cov[1, 1])
        return float((np.polyval(line, hour) - straight(done)) ** 2 - band)

    end = float((straight(done) - line[1]) / line[0])
    return end, brentq(beyond, end - 40.0, end), brentq(beyond, end, end + 400.0)


@pytest.mark.parametrize("shape", range(3), ids=["steady", "slowing", "s-shaped"])
def test_each_shapes_line_and_interval_are_those_of_another_road(shape: int) -> None:
    readings = [(20.0, 0.62), (30.0, 0.40), (44.0, 0.22), (52.0, 0.15), (66.0, 0.08)]
    straight, steepness = _SHAPES[shape]
    found = _crossing(readings, 0.012, _SHAPES[shape], 0.006)
    end, earliest, latest = fitted_by_numpy(readings, 0.012, straight, steepness, 0.006)
    assert found.expected == pytest.approx(end, rel=1e-9)
    # The table of Student's t has four digits.
    assert found.earliest == pytest.approx(earliest, rel=1e-3)
    assert found.latest == pytest.approx(latest, rel=1e-3)


def test_a_hydrometer_is_never_surer_than_it_is() -> None:
    """Readings that lie on the line by chance leave the reading's own uncertainty."""
    on_the_line = [(10.0, 0.8), (20.0, 0.6), (30.0, 0.4), (40.0, 0.2)]
    found = _crossing(on_the_line, 0.0, _SHAPES[0], 0.006)
    _, earliest, latest = fitted_by_numpy(on_the_line, 0.0, *_SHAPES[0], 0.006)
    assert (found.earliest, found.latest) == (
        pytest.approx(earliest, rel=1e-3),
        pytest.approx(latest, rel=1e-3),
    )
    assert found.misses == pytest.approx(0.0, abs=1e-12)


def test_what_is_expected_leans_to_the_shape_that_fits() -> None:
    """Weights are e^(-half the excess of chi-square): equal shapes meet half way, 2 more weigh 1/e."""
    near, far = _End(60.0, 55.0, 70.0, 3.0), _End(80.0, 70.0, 95.0, 3.0)
    even = _joined([near, far], 3, START, 40.0)
    assert (even.ends_at, even.earliest, even.latest) == (at(70.0), at(55.0), at(95.0))
    worse = _End(80.0, 70.0, 95.0, 5.0)
    leaning = _joined([near, worse], 3, START, 40.0)
    assert hours(leaning.ends_at) == pytest.approx(60.0 + 20.0 * math.exp(-1) / (1 + math.exp(-1)))


def test_misses_are_measured_by_the_best_shapes_own_scatter() -> None:
    """Where even the best misses by twice what a reading may, 4 more count as 2."""
    near, far = _End(60.0, 55.0, 70.0, 6.0), _End(80.0, 70.0, 95.0, 10.0)
    found = _joined([near, far], 3, START, 40.0)
    assert hours(found.ends_at) == pytest.approx(60.0 + 20.0 * math.exp(-1) / (1 + math.exp(-1)))


def test_a_shape_that_cannot_be_does_not_widen_the_interval() -> None:
    best = _End(60.0, 55.0, 70.0, 1.0)
    for excess, latest in ((CANNOT_BE, 95.0), (CANNOT_BE + 0.1, 70.0)):
        other = _End(80.0, 70.0, 95.0, 1.0 + excess)
        assert _joined([best, other], 3, START, 40.0).latest == at(latest)


def test_one_shape_without_bound_leaves_the_end_open() -> None:
    assert _joined([_End(60, 55, 70, 1.0), _End(80, 60, None, 1.0)], 3, START, 40.0).latest is None


def test_a_fall_that_would_take_months_is_no_fall() -> None:
    barely = wash((0, 16.0), (10, 10.0), (20, 10.0), (30, 9.999), (40, 9.998), (50, 9.998), (60, 9.997))
    with pytest.raises(FigureError) as caught:
        forecast_end(barely, END)
    assert caught.value.reason == "not_falling"


@given(st.lists(st.tuples(st.floats(0.0, 200.0), st.floats(-2.9, 20.0)), max_size=12))
def test_whatever_was_read_gives_a_forecast_in_order_or_a_reason(read: list[tuple[float, float]]) -> None:
    try:
        found = forecast_end(wash(*read), END)
    except FigureError as error:
        reason, found = error.reason, None
    assert found or reason in {"too_few", "not_falling", "out_of_range"}
    assert not found or found.earliest <= found.ends_at <= (found.latest or found.ends_at)
