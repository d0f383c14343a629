from __future__ import annotations

import math
import random
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.errors import FigureError
from kiosk.figures.fills import Event, EventKind, Fill, Gauge, Measure
from kiosk.figures.loss_rates import loss_rate, loss_rates

FILLED = datetime(2020, 1, 1, tzinfo=UTC)
LATER = datetime(2030, 1, 1, tzinfo=UTC)


def after(years: float) -> datetime:
    return FILLED + years * timedelta(days=365.25)


def fill(*gauges: tuple[float, float], store: str = "dry", events: tuple[Event, ...] = ()) -> Fill:
    """Gauges as (years, litres of pure alcohol)."""
    return Fill("F", store, FILLED, tuple(Gauge(after(t), a / 0.6, a) for t, a in gauges), events)


def test_the_rate_and_its_interval_by_hand() -> None:
    """100 to 94 in one year, 100 to 90 in two.

    k = (0.061875 + 0.105361) / 3 = 0.055745; residuals -0.006130 and 0.006130;
    variance 2/1 x 2 x 0.006130^2 / 9, error 0.0040867; t with 1 degree 6.314.
    """
    found = loss_rate([fill((0, 100), (1, 94)), fill((0, 100), (2, 90))], "dry", LATER)
    assert found.per_year == pytest.approx(0.0557453, abs=1e-6)
    assert found.high - found.per_year == pytest.approx(6.314 * 0.0040867, abs=2e-6)
    assert found.per_year - found.low == pytest.approx(found.high - found.per_year)
    assert (found.casks, found.cask_years) == (2, pytest.approx(3.0))


def test_a_casks_intervals_count_as_one_witness() -> None:
    """Gauging the same two casks oftener along the same way adds no certainty."""
    once = [fill((0, 100), (2, 90)), fill((0, 100), (2, 86))]
    often = [fill((0, 100), (1, 95), (2, 90)), fill((0, 100), (1, 92), (2, 86))]
    few, many = (loss_rate(fills, "dry", LATER) for fills in (once, often))
    assert (many.per_year, many.high) == (pytest.approx(few.per_year), pytest.approx(few.high))


def test_what_was_drawn_between_gauges_is_not_loss() -> None:
    """A2 = A1 e^-kT - D e^-k(t2 - t1) with k = 0.06, T = 2, a draw of 20 after half a year."""
    left = 100.0 * math.exp(-0.12) - 20.0 * math.exp(-0.09)
    drawn = Event(EventKind.TRANSFER, after(0.5), 33.0, 20.0)
    fills = [fill((0, 100), (2, left), events=(drawn,)) for _ in range(2)]
    assert loss_rate(fills, "dry", LATER).per_year == pytest.approx(0.06, abs=1e-10)


@given(
    st.floats(-0.02, 0.3),
    st.floats(0.1, 5.0),
    st.lists(st.tuples(st.floats(0.0, 0.99), st.floats(0.0, 8.0)), max_size=4),
)
def test_the_rate_that_made_an_interval_is_found_again(
    k: float, time: float, draws: list[tuple[float, float]]
) -> None:
    left = 100.0 * math.exp(-k * time)
    events = []
    for part, litres in draws:
        at = after(part * time)
        events.append(Event(EventKind.SAMPLE, at, litres, litres))
        left -= litres * math.exp(-k * ((after(time) - at) / timedelta(days=365.25)))
    if left < 1.0:
        return
    fills = [fill((0, 100), (time, left), events=tuple(events)) for _ in range(2)]
    assert loss_rate(fills, "dry", LATER).per_year == pytest.approx(k, abs=1e-7)


def test_alcohol_and_bulk_volume_have_rates_of_their_own() -> None:
    """In a dry store the volume falls faster than the alcohol: strength rises."""
    gauges = (Gauge(after(0), 200.0, 120.0), Gauge(after(2), 174.0, 107.0))
    fills = [Fill("F", "dry", FILLED, gauges) for _ in range(2)]
    alcohol = loss_rate(fills, "dry", LATER)
    volume = loss_rate(fills, "dry", LATER, Measure.VOLUME)
    assert alcohol.per_year == pytest.approx(-math.log(107.0 / 120.0) / 2.0)
    assert volume.per_year == pytest.approx(-math.log(174.0 / 200.0) / 2.0)


@pytest.mark.parametrize(
    "spoilt",
    [
        fill((0, 100), (1, 50), events=(Event(EventKind.LEAK, after(0.5)),)),  # nobody knows how much
        fill((0, 100), (1, 80), events=(Event(EventKind.MOVE, after(0.5), store="humid"),)),  # two stores
        fill((0, 100), (1, 0)),  # gauged empty
        fill((0, 100)),  # one gauge
        fill((0, 100), (1, 10), store="humid"),  # elsewhere
        fill(
            (0, 50), (1, 40), events=(Event(EventKind.TRANSFER, after(0.5), 90.0, 60.0),)
        ),  # more out than in
    ],
)
def test_intervals_that_cannot_tell_one_stores_evaporation_are_left_out(spoilt: Fill) -> None:
    good = [fill((0, 100), (1, 94)), fill((0, 100), (2, 90))]
    assert loss_rate([*good, spoilt], "dry", LATER) == loss_rate(good, "dry", LATER)


def test_after_a_move_the_intervals_count_for_the_new_store() -> None:
    move = Event(EventKind.MOVE, after(1), store="humid")
    fills = [fill((0, 100), (1, 94), (2, 91), events=(move,)) for _ in range(2)]
    assert loss_rate(fills, "dry", LATER).per_year == pytest.approx(-math.log(0.94))
    assert loss_rate(fills, "humid", LATER).per_year == pytest.approx(-math.log(91 / 94))
    assert set(loss_rates(fills, LATER)) == {"dry", "humid"}


def test_gauges_after_the_moment_asked_are_left_aside() -> None:
    fills = [fill((0, 100), (1, 94), (2, 50)) for _ in range(2)]
    assert loss_rate(fills, "dry", after(1)).per_year == pytest.approx(-math.log(0.94))


@pytest.mark.parametrize("fills", [[], [fill((0, 100), (1, 94))], [fill((0, 100)), fill((0, 100), (1, 94))]])
def test_below_two_casks_gauged_twice_there_is_no_rate(fills: list[Fill]) -> None:
    with pytest.raises(FigureError) as caught:
        loss_rate(fills, "dry", LATER)
    assert caught.value.reason == "too_few"
    assert loss_rates(fills, LATER) == {}


def history(random_: random.Random) -> Fill:
    """A cask with a rate of its own, driven by the heat of the year, with gauges that err by a litre."""
    own, amount, time = random_.gammavariate(9.0, 0.06 / 9.0), 118.0, random_.random()
    gauges = [(time, amount + random_.gauss(0.0, 0.7))]
    for _ in range(random_.randint(2, 5)):
        until = time + random_.uniform(0.5, 1.5)
        heat = 0.4 * (math.cos(2 * math.pi * time) - math.cos(2 * math.pi * until)) / (2 * math.pi)
        amount *= math.exp(-own * (until - time + heat))
        time = until
        gauges.append((time, amount + random_.gauss(0.0, 0.7)))
    return fill(*gauges)


def test_the_interval_holds_the_true_rate_about_as_often_as_it_claims() -> None:
    """Casks taken as clusters cover 87 to 90 %; intervals taken as independent cover 65 to 70."""
    random_ = random.Random(7)
    held = sum(
        found.low <= 0.06 <= found.high
        for found in (loss_rate([history(random_) for _ in range(12)], "dry", LATER) for _ in range(400))
    )
    assert 0.85 <= held / 400 <= 0.94


def test_the_spread_from_cask_to_cask_by_hand() -> None:
    """Residuals -0.0061301 and 0.0061301 over a mean of 1.5 years: 0.0086693 / 1.5."""
    found = loss_rate([fill((0, 100), (1, 94)), fill((0, 100), (2, 90))], "dry", LATER)
    assert found.between_casks == pytest.approx(0.0057796, abs=1e-6)


def test_two_gauges_of_one_moment_make_no_interval() -> None:
    doubled = [fill((0, 100), (0, 99), (1, 94)) for _ in range(2)]
    assert loss_rate(doubled, "dry", LATER).per_year == pytest.approx(-math.log(94 / 99))
