from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, How, Measure
from kiosk.figures.casks.gauging import gauged
from kiosk.figures.casks.loss_rates import fit_losses, loss_rate
from kiosk.figures.errors import FigureError

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
    assert set(fit_losses(fills, LATER).rates) == {"dry", "humid"}


def test_gauges_after_the_moment_asked_are_left_aside() -> None:
    fills = [fill((0, 100), (1, 94), (2, 50)) for _ in range(2)]
    assert loss_rate(fills, "dry", after(1)).per_year == pytest.approx(-math.log(0.94))


@pytest.mark.parametrize("fills", [[], [fill((0, 100), (1, 94))], [fill((0, 100)), fill((0, 100), (1, 94))]])
def test_below_two_casks_gauged_twice_there_is_no_rate(fills: list[Fill]) -> None:
    with pytest.raises(FigureError) as caught:
        loss_rate(fills, "dry", LATER)
    assert caught.value.reason == "too_few"
    assert fit_losses(fills, LATER).rates == {}


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


# Gauges of different sureness, moves, and what the wood drinks


def test_a_poor_gauge_moves_the_rate_less_than_a_good_one() -> None:
    """Three casks lose 6 %; a fourth shows 16 %, once by a poor gauge and once by a good one."""

    def fitted(uncertainty: float) -> float:
        last = Gauge(after(1), 160.0, 84.0, uncertainty)
        odd = Fill("F", "dry", FILLED, (Gauge(FILLED, 167.0, 100.0), last))
        good = [fill((0, 100.0 + n), (1, (100.0 + n) * 0.94)) for n in range(3)]
        return loss_rate([*good, odd], "dry", LATER).per_year

    plain = -(3 * math.log(0.94) + math.log(0.84)) / 4
    assert fitted(0.0062) == pytest.approx(plain)
    assert -math.log(0.94) < fitted(0.1) < plain - 0.01


def move(years: float, store: str) -> Event:
    return Event(EventKind.MOVE, after(years), store=store)


@given(st.floats(-0.1, 0.15), st.floats(-0.1, 0.15), st.floats(-0.02, 0.05))
def test_rates_and_soakage_are_found_again_through_moves_and_draws(
    dry: float, humid: float, soaked: float
) -> None:
    """Eight casks of one wood, half of them moved between two gauges and drawn from; no errors."""
    fills = []
    for n in range(8):
        moved = 1.3 + 0.05 * n
        events: tuple[Event, ...] = (move(moved, "humid"),) if n % 2 else ()
        amount, gauges, time = 100.0 + n, [(0.0, 100.0 + n)], 0.0
        amount *= math.exp(-soaked)
        for until in (0.9 + 0.1 * n, 2.2, 3.4):
            in_dry = max(min(until, moved if n % 2 else 9.0) - time, 0.0)
            amount *= math.exp(-dry * in_dry - humid * (until - time - in_dry))
            gauges.append((until, amount))
            time = until
        if n == 3:  # a draw before the move, in the moved interval
            at, drawn = 1.35, 10.0
            events += (Event(EventKind.SAMPLE, after(at), drawn / 0.6, drawn),)
            gone = drawn * math.exp(-dry * (moved - at))
            gauges[2] = (2.2, gauges[2][1] - gone * math.exp(-humid * (2.2 - moved)))
            gauges[3] = (3.4, gauges[2][1] * math.exp(-humid * 1.2))
        taken = tuple(Gauge(after(t), a / 0.6, a) for t, a in gauges)
        fills.append(Fill(str(n), "dry", FILLED, taken, events, wood="oak", number=1))
    found = fit_losses(fills, LATER)
    assert found.rates["dry"].per_year == pytest.approx(dry, abs=1e-7)
    assert found.rates["humid"].per_year == pytest.approx(humid, abs=1e-7)
    drunk = found.soakages["oak", 1]
    assert drunk.share == pytest.approx(1.0 - math.exp(-soaked), abs=1e-7)
    assert drunk.low <= drunk.share <= drunk.high


def test_a_store_known_only_across_a_move_is_told_by_what_the_other_does_not_explain() -> None:
    good = [fill((0, 100), (1, 94)), fill((0, 100), (2, 88.36))]
    across = [
        Fill(
            code, "dry", FILLED, (Gauge(after(0), 1.0, 100.0), Gauge(after(2), 1.0, left)), (move(1, "new"),)
        )
        for code, left in (("a", 94.0 * 0.98), ("b", 94.0 * 0.96))
    ]
    found = fit_losses([*good, *across], LATER).rates
    assert found["new"].per_year == pytest.approx(-(math.log(0.98) + math.log(0.96)) / 2)
    assert found["dry"].per_year == pytest.approx(-math.log(0.94))


def test_two_stores_that_nothing_tells_apart_have_no_rate_of_their_own() -> None:
    """Every cask lay half its time here and half there: at most one store's rate can be given."""
    moved = [
        Fill(code, "a", FILLED, (Gauge(after(0), 1.0, 100.0), Gauge(after(2), 1.0, left)), (move(1, "b"),))
        for code, left in (("1", 90.0), ("2", 92.0), ("3", 91.0))
    ]
    assert fit_losses(moved, LATER).rates == {}


def oak(*gauges: tuple[float, float], number: int = 1, code: str = "F") -> Fill:
    taken = tuple(Gauge(after(t), a / 0.6, a) for t, a in gauges)
    return Fill(code, "dry", FILLED, taken, wood="oak", number=number)


def test_soakage_by_hand() -> None:
    """6 % a year later on; first years of 92.12 % and 91.65 %: wood drank 2 and 2.5 %."""
    fills = [oak((0, 100), (1, 92.12), (2, 92.12 * 0.94)), oak((0, 100), (1, 91.65), (2, 91.65 * 0.94))]
    found = fit_losses(fills, LATER)
    assert found.rates["dry"].per_year == pytest.approx(-math.log(0.94))
    assert found.soakages["oak", 1].log == pytest.approx(-(math.log(0.98) + math.log(0.975)) / 2)
    assert found.soakages["oak", 1].casks == 2
    assert not found.rates["dry"].soakage_in_it


def test_a_sample_drawn_before_the_first_regauge_changes_neither_rate_nor_soakage() -> None:
    """Wood drinks 2 % at once, 6 % a year evaporate; one cask gives 10 L after half a year."""
    soaked, half_a_year = 0.02, math.exp(-0.03)
    left = 100.0 * math.exp(-soaked)
    plain = [oak((0, 100), (1, left * half_a_year**2), (2, left * half_a_year**4)) for _ in range(3)]
    drawn = (left * half_a_year - 10.0) * half_a_year
    sampled = replace(
        oak((0, 100), (1, drawn), (2, drawn * half_a_year**2)),
        events=(Event(EventKind.SAMPLE, after(0.5), 10.0 / 0.6, 10.0),),
    )
    found = fit_losses([*plain, sampled], LATER)
    assert found.rates["dry"].per_year == pytest.approx(0.06, abs=1e-9)
    assert found.soakages["oak", 1].log == pytest.approx(soaked, abs=1e-9)


def test_wood_gauged_after_two_days_counts_no_more_than_wood_gauged_after_a_year() -> None:
    """One cask lost 2 % to the wood and was gauged at once, another 4 % after a year."""
    year = 0.94
    steady = [fill((0, 100), (1, 94), (2, 88.36)) for _ in range(20)]
    at_once = oak((0, 100), (0.005, 98.0 * year**0.005), (1, 98.0 * year))
    late = oak((0, 100), (1, 96.0 * year), (2, 96.0 * year**2))
    found = fit_losses([*steady, at_once, late], LATER).soakages["oak", 1]
    assert found.log == pytest.approx(-(math.log(0.98) + math.log(0.96)) / 2, abs=2e-4)


def test_first_and_later_fillings_of_a_wood_drink_apart() -> None:
    new = [oak((0, 100), (1, 91.0 + n), (2, (91.0 + n) * 0.94)) for n in range(2)]
    used = [oak((0, 100), (1, 93.5 + n), (2, (93.5 + n) * 0.94), number=3) for n in range(2)]
    found = fit_losses([*new, *used], LATER).soakages
    assert set(found) == {("oak", 1), ("oak", 3)}
    assert found["oak", 1].share > found["oak", 3].share


def test_where_first_intervals_are_all_there_is_the_rate_says_that_soakage_is_in_it() -> None:
    found = fit_losses([oak((0, 100), (1, 92)), oak((0, 100), (1, 91))], LATER)
    assert found.soakages == {}
    assert found.rates["dry"].soakage_in_it
    assert found.rates["dry"].per_year == pytest.approx(-(math.log(0.92) + math.log(0.91)) / 2)


def test_a_first_interval_alone_in_its_wood_tells_nothing_of_evaporation() -> None:
    later = [fill((0, 100), (1, 94)), fill((0, 100), (1, 93))]
    found = fit_losses([*later, oak((0, 100), (1, 80))], LATER)
    assert found == fit_losses(later, LATER)


def test_fills_of_one_cask_are_one_witness() -> None:
    gauges = (Gauge(after(0), 1.0, 100.0), Gauge(after(1), 1.0, 94.0))
    again = [Fill(code, "dry", FILLED, gauges, cask="C-7") for code in ("1", "2")]
    with pytest.raises(FigureError) as caught:
        loss_rate(again, "dry", LATER)
    assert (caught.value.value, caught.value.reason) == (1, "too_few")


def oaken(random_: random.Random, n: int) -> Fill:
    """A cask by another model than the fitted one.

    A rate of its own, driven by the heat of the year; a wood that drinks along a
    square root over its first month, more or less from cask to cask; gauges by
    dip or by weight; half of the casks moved to a humid store in mid-interval.
    """
    own, warm = random_.gammavariate(25.0, 0.06 / 25.0), random_.random()
    soaked = random_.gauss(0.02, 0.004)
    moved = random_.uniform(1.2, 3.0) if n % 2 else 99.0
    amount, time = random_.uniform(105.0, 125.0), 0.0
    how = random_.choice([How.DIP, How.WEIGHT])

    def taken() -> Gauge:
        exact = gauged(after(time), amount / 0.6, amount, how)
        return replace(exact, alcohol_l=amount * random_.gauss(1.0, exact.relative_uncertainty))

    gauges, steps = [taken()], 0
    following = random_.uniform(0.3, 0.8)
    while steps < 4:
        step = 1.0 / 52.0
        heat = 1.0 + 0.4 * math.sin(2.0 * math.pi * (time + warm))
        amount *= math.exp(-own * heat * step * (1.0 if time < moved else 0.5))
        month = 1.0 / 12.0
        drunk = math.sqrt(min(time + step, month) / month) - math.sqrt(min(time, month) / month)
        amount *= math.exp(-soaked * drunk)
        time += step
        if time >= following:
            gauges.append(taken())
            following = time + random_.uniform(0.6, 1.4)
            steps += 1
    events = (move(moved, "humid"),) if n % 2 else ()
    return Fill(str(n), "dry", FILLED, tuple(gauges), events, wood="oak", number=1)


def test_rates_and_soakage_lie_within_their_intervals_about_as_often_as_they_claim() -> None:
    """300 trials of 90 % have a standard error of 1.7 %."""
    random_ = random.Random(25)
    held = {"dry": 0, "humid": 0, "oak": 0}
    trials = 300
    for _ in range(trials):
        found = fit_losses([oaken(random_, n) for n in range(16)], LATER)
        held["dry"] += found.rates["dry"].low <= 0.06 <= found.rates["dry"].high
        held["humid"] += found.rates["humid"].low <= 0.03 <= found.rates["humid"].high
        held["oak"] += found.soakages["oak", 1].low <= -math.expm1(-0.02) <= found.soakages["oak", 1].high
    assert {name: 0.83 <= n / trials <= 0.95 for name, n in held.items()} == dict.fromkeys(held, True), held
