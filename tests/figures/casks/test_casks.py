from __future__ import annotations

import math
import random
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.casks import (
    Event,
    EventKind,
    Fill,
    Gauge,
    LossRate,
    Measure,
    Soakage,
    angels_share,
    contents_now,
    fit_losses,
    losses,
)
from kiosk.figures.errors import FigureError

FILLED = datetime(2020, 1, 1, tzinfo=UTC)


def after(years: float) -> datetime:
    return FILLED + years * timedelta(days=365.25)


def gauge(years: float, alcohol_l: float, volume20_l: float = 0.0) -> Gauge:
    return Gauge(after(years), volume20_l or alcohol_l / 0.6, alcohol_l)


def event(kind: EventKind, years: float, alcohol_l: float | None = None, store: str = "") -> Event:
    volume20_l = None if alcohol_l is None else alcohol_l / 0.6
    return Event(kind, after(years), volume20_l, alcohol_l, store)


def fill(
    *gauges: Gauge,
    events: tuple[Event, ...] = (),
    store: str = "dry",
    emptied: float | None = None,
    filled: float = 0.0,
    code: str = "F-1",
) -> Fill:
    emptied_at = None if emptied is None else after(emptied)
    return Fill(code, store, after(filled), gauges, events, emptied_at)


def rate(per_year: float, half: float = 0.0, spread: float = 0.0) -> LossRate:
    return LossRate(per_year, per_year - half, per_year + half, spread, 10, 30.0)


RATES = {"dry": rate(0.06), "humid": rate(0.04)}


# What is there now


def test_at_its_gauge_a_fill_holds_what_was_gauged() -> None:
    found = contents_now(fill(gauge(0, 120.0), gauge(2, 106.0)), after(2), RATES)
    assert (found.amount_l, found.estimated, found.gauged_at) == (106.0, False, after(2))


def test_between_gauges_a_fill_falls_at_its_stores_rate() -> None:
    found = contents_now(fill(gauge(0, 120.0), gauge(2, 106.0)), after(3.5), RATES)
    assert found.amount_l == pytest.approx(106.0 * math.exp(-0.06 * 1.5))
    assert found.estimated
    assert found.rated
    assert found.low_l < found.amount_l < found.high_l


def test_time_is_split_by_store_at_each_move() -> None:
    moved = fill(gauge(0, 100.0), events=(event(EventKind.MOVE, 1, store="humid"),))
    assert contents_now(moved, after(3), RATES).amount_l == pytest.approx(100.0 * math.exp(-0.06 - 0.08))


def test_what_was_drawn_no_longer_evaporates() -> None:
    drawn = fill(gauge(0, 100.0), events=(event(EventKind.SAMPLE, 1, 10.0),))
    left = 100.0 * math.exp(-0.12) - 10.0 * math.exp(-0.06)
    assert contents_now(drawn, after(2), RATES).amount_l == pytest.approx(left)


def test_bulk_volume_is_followed_apart_from_alcohol() -> None:
    both = fill(Gauge(FILLED, 200.0, 120.0))
    found = contents_now(both, after(1), {"dry": rate(0.08)}, Measure.VOLUME)
    assert found.amount_l == pytest.approx(200.0 * math.exp(-0.08))


def test_an_emptied_fill_holds_nothing() -> None:
    emptied = fill(gauge(0, 100.0), emptied=2)
    assert contents_now(emptied, after(3), RATES).amount_l == 0.0
    assert contents_now(emptied, after(1), RATES).amount_l == pytest.approx(100.0 * math.exp(-0.06))


def test_a_draw_at_the_instant_of_a_gauge_comes_after_it() -> None:
    drawn = fill(gauge(0, 100.0), gauge(1, 95.0), events=(event(EventKind.SAMPLE, 1, 0.5),))
    assert contents_now(drawn, after(1), RATES).amount_l == pytest.approx(94.5)


def test_without_a_rate_the_last_gauge_stands_and_says_so() -> None:
    found = contents_now(fill(gauge(0, 100.0), store="new"), after(1), RATES)
    assert (found.amount_l, found.rated) == (100.0, False)


def test_what_comes_later_does_not_change_what_was_known() -> None:
    early = fill(gauge(0, 100.0))
    late = fill(gauge(0, 100.0), gauge(2, 80.0), events=(event(EventKind.LEAK, 1.5, 5.0),), emptied=3)
    assert contents_now(late, after(1), RATES) == contents_now(early, after(1), RATES)


def test_a_fill_without_a_gauge_cannot_be_told() -> None:
    with pytest.raises(FigureError) as caught:
        contents_now(fill(), after(1), RATES)
    assert (caught.value.value, caught.value.reason) == ("F-1", "too_few")


# The angels' share


def test_the_share_by_hand() -> None:
    """100 put in, 3 sampled, 88 gauged after two years, then one year at 6 % a year."""
    one = fill(gauge(0, 100.0), gauge(2, 88.0), events=(event(EventKind.SAMPLE, 1, 3.0),))
    found = angels_share([one], after(3), RATES)
    lately = 88.0 * (1.0 - math.exp(-0.06))
    assert found.measured_share == pytest.approx(0.09)
    assert found.estimated_share == pytest.approx(lately / 100.0)
    assert found.share == pytest.approx((9.0 + lately) / 100.0)
    assert (found.put_in_l, found.taken_l, found.leaked_l) == (100.0, 3.0, 0.0)
    assert not found.rests_on_last_gauges


def test_the_share_is_of_all_that_was_put_in() -> None:
    """A large cask weighs more than a small one."""
    found = angels_share(
        [fill(gauge(0, 300.0), gauge(1, 270.0)), fill(gauge(0, 100.0), gauge(1, 98.0))], after(1), {}
    )
    assert found.share == pytest.approx(32.0 / 400.0)


@pytest.mark.parametrize("kind", [EventKind.SAMPLE, EventKind.TRANSFER, EventKind.LEAK])
def test_leaks_samples_and_transfers_are_not_evaporation(kind: EventKind) -> None:
    plain = fill(gauge(0, 100.0), gauge(2, 90.0))
    drawn = fill(gauge(0, 100.0), gauge(2, 70.0), events=(event(kind, 1, 20.0),))
    assert angels_share([drawn], after(2), {}).share == pytest.approx(
        angels_share([plain], after(2), {}).share
    )


def test_a_leak_of_unknown_amount_is_what_the_rate_does_not_explain() -> None:
    leaked = fill(gauge(0, 100.0), gauge(1, 60.0), events=(event(EventKind.LEAK, 0.5),))
    found = angels_share([leaked], after(1), RATES)
    assert found.lost_l == pytest.approx(100.0 * (1.0 - math.exp(-0.06)))
    assert found.leaked_l == pytest.approx(40.0 - found.lost_l)


def test_a_leak_of_unknown_amount_without_a_rate_is_all_leak() -> None:
    leaked = fill(gauge(0, 100.0), gauge(1, 60.0), events=(event(EventKind.LEAK, 0.5),))
    found = angels_share([leaked], after(1), {})
    assert (found.lost_l, found.leaked_l) == (0.0, 40.0)


def test_an_emptied_cask_lost_what_did_not_come_out() -> None:
    dumped = fill(gauge(0, 100.0), events=(event(EventKind.TRANSFER, 3, 82.0),), emptied=3)
    found = angels_share([dumped], after(5), RATES)
    assert (found.share, found.measured_share, found.there_l) == (
        pytest.approx(0.18),
        pytest.approx(0.18),
        0.0,
    )


@pytest.mark.parametrize("events", [(), (event(EventKind.DUMP, 3),)])
def test_a_cask_emptied_without_a_measure_gave_what_was_there(events: tuple[Event, ...]) -> None:
    dumped = fill(gauge(0, 100.0), events=events, emptied=3)
    found = angels_share([dumped], after(5), RATES)
    assert found.estimated_share == pytest.approx(1.0 - math.exp(-0.18))
    assert found.taken_l == pytest.approx(100.0 * math.exp(-0.18))
    assert found.there_l == 0.0


def test_a_gauge_at_the_emptying_settles_the_loss() -> None:
    dumped = fill(gauge(0, 100.0), gauge(3, 83.0), events=(event(EventKind.DUMP, 3),), emptied=3)
    found = angels_share([dumped], after(5), RATES)
    assert (found.measured_share, found.estimated_share) == (pytest.approx(0.17), pytest.approx(0.0))


def test_without_rates_the_share_rests_on_the_last_gauges_and_says_so() -> None:
    found = angels_share([fill(gauge(0, 100.0), gauge(2, 90.0))], after(3))
    assert found.unrated == ("dry",)
    assert found.rests_on_last_gauges
    assert (found.share, found.estimated_share) == (pytest.approx(0.1), 0.0)
    assert found.newest_gauge_at == found.oldest_gauge_at == after(2)


def test_the_last_gauges_lie_from_the_oldest_to_the_newest() -> None:
    fills = [fill(gauge(0, 100.0), gauge(n, 94.0)) for n in (2, 1, 3)]
    found = angels_share(fills, after(4), RATES)
    assert (found.oldest_gauge_at, found.newest_gauge_at) == (after(1), after(3))


def test_rates_are_fitted_on_the_fills_given_when_none_are_passed() -> None:
    fills = [fill(gauge(0, 100.0), gauge(2, 88.0)), fill(gauge(0, 100.0), gauge(2, 90.0))]
    fitted = angels_share(fills, after(4))
    assert fitted == angels_share(fills, after(4), fit_losses(fills, after(4)).rates)
    assert fitted.estimated_share > 0.0


def test_fills_without_a_gauge_are_named_and_left_out() -> None:
    found = angels_share([fill(gauge(0, 100.0), gauge(1, 94.0)), fill(code="F-9")], after(1), {})
    assert (found.left_out, found.fills) == (("F-9",), 1)


def test_fills_made_later_are_not_asked() -> None:
    later = fill(gauge(5, 100.0), filled=5, code="later")
    found = angels_share([fill(gauge(0, 100.0), gauge(1, 94.0)), later], after(1), {})
    assert (found.put_in_l, found.left_out) == (100.0, ())


@pytest.mark.parametrize("fills", [[], [fill()], [fill(gauge(5, 100.0), filled=5)], [fill(gauge(0, 0.0))]])
def test_with_nothing_put_in_there_is_no_share(fills: list[Fill]) -> None:
    with pytest.raises(FigureError) as caught:
        angels_share(fills, after(1))
    assert (caught.value.field, caught.value.reason) == ("fills", "too_few")


def test_a_new_cask_has_lost_nothing_and_its_one_gauge_cancels() -> None:
    found = angels_share([fill(gauge(0, 100.0))], after(0), RATES)
    assert (found.share, found.low, found.high) == (0.0, 0.0, 0.0)


def test_the_interval_widens_with_the_rates_uncertainty_and_the_spread_of_casks() -> None:
    def width(chosen: LossRate) -> float:
        found = angels_share([fill(gauge(0, 100.0))], after(2), {"dry": chosen})
        return found.high - found.low

    assert width(rate(0.06)) < width(rate(0.06, half=0.01)) < width(rate(0.06, half=0.01, spread=0.02))


def test_the_rates_uncertainty_is_carried_by_the_slope() -> None:
    """d(1 - e^-2k)/dk = 2 e^-2k: half a width of 0.001 a year becomes 0.002 e^-0.12."""
    exact = Gauge(FILLED, 200.0, 100.0, relative_uncertainty=0.0)
    found = angels_share([fill(exact)], after(2), {"dry": rate(0.06, half=0.001)})
    assert (found.high - found.low) / 2.0 == pytest.approx(0.002 * math.exp(-0.12))


AMOUNTS = st.floats(0.0, 60.0)


@given(
    st.lists(
        st.tuples(st.floats(1.0, 300.0), st.floats(0.3, 1.0), AMOUNTS, AMOUNTS, st.booleans()), min_size=1
    ),
    st.floats(0.0, 8.0),
)
def test_every_litre_put_in_is_accounted_for(
    rows: list[tuple[float, float, float, float, bool]], when: float
) -> None:
    fills = [
        fill(
            gauge(0, put_in),
            gauge(2, put_in * left),
            events=(event(EventKind.SAMPLE, 1, sampled), event(EventKind.LEAK, 3, leaked)),
            emptied=4.0 if emptied else None,
            code=str(i),
        )
        for i, (put_in, left, sampled, leaked, emptied) in enumerate(rows)
    ]
    found = angels_share(fills, after(when), RATES)
    accounted = found.lost_l + found.taken_l + found.leaked_l + found.there_l
    assert accounted == pytest.approx(found.put_in_l)
    assert found.share == pytest.approx(found.measured_share + found.estimated_share)
    assert found.low <= found.share <= found.high
    assert found.there_l >= 0.0


def simulated(random_: random.Random, now: float) -> tuple[list[Fill], float]:
    """Twenty casks that do not follow the fitted model, and their true share at `now`.

    Each has its own rate, a mild season drives it, gauges err, samples go.
    """
    fills, put_in, lost = [], 0.0, 0.0
    for i in range(20):
        own = random_.gammavariate(16.0, 0.06 / 16.0)
        begin, amount = random_.uniform(0.0, 2.0), random_.uniform(100.0, 130.0)
        put_in += amount
        gauges = [Gauge(after(begin), 200.0, amount * random_.gauss(1.0, 0.0062))]
        events = []
        time, step = begin, 1.0 / 24.0
        next_gauge = begin + random_.uniform(0.8, 1.2)
        while time < now:
            gone = amount * own * (1.0 + 0.1 * math.sin(2.0 * math.pi * time)) * step
            amount, lost, time = amount - gone, lost + gone, time + step
            if time >= next_gauge:
                gauges.append(Gauge(after(time), 200.0, amount * random_.gauss(1.0, 0.0062)))
                events.append(Event(EventKind.SAMPLE, after(time), 1.0, 0.6))
                amount -= 0.6
                next_gauge += random_.uniform(0.8, 1.2)
        fills.append(Fill(str(i), "dry", after(begin), tuple(gauges), tuple(events)))
    return fills, lost / put_in


def test_the_shares_interval_holds_the_truth_about_as_often_as_it_claims() -> None:
    """The simulating model is not the fitted one; 200 trials of 90 % have a standard error of 2 %."""
    random_ = random.Random(20260616)
    held = 0
    for _ in range(200):
        fills, truth = simulated(random_, 5.5)
        found = angels_share(fills, after(5.5))
        held += found.low <= truth <= found.high
    assert 0.84 <= held / 200 <= 0.98


def half_width(found: object) -> float:
    return (found.high_l - found.low_l) / 2.0  # type: ignore[attr-defined]


def test_the_contents_interval_holds_the_gauges_own_error_as_it_evaporates() -> None:
    """A standard uncertainty of 1 in 100, times 1.6449 for 90 %, times what evaporation leaves of it."""
    gauged = Gauge(FILLED, 200.0, 100.0, relative_uncertainty=0.01)
    found = contents_now(fill(gauged), after(1), RATES)
    assert half_width(found) == pytest.approx(1.6449 * math.exp(-0.06))


def test_after_a_move_each_stores_uncertainty_works_for_its_own_time() -> None:
    """A = 100 exp(-k1 - 2 k2): dA/dk1 = -A, dA/dk2 = -2 A."""
    exact = Gauge(FILLED, 200.0, 100.0, relative_uncertainty=0.0)
    moved = fill(exact, events=(event(EventKind.MOVE, 1, store="humid"),))
    rates = {"dry": rate(0.06, half=0.003), "humid": rate(0.04, half=0.002)}
    left = 100.0 * math.exp(-0.06 - 0.08)
    assert half_width(contents_now(moved, after(3), rates)) == pytest.approx(left * math.hypot(0.003, 0.004))


def test_the_shares_interval_holds_the_gauges_errors_by_hand() -> None:
    """One fill gauged once, its error cancelling but for evaporation; one gauged twice.

    The share's slopes: (1 - s) of what was put in, -1 of what is there, over 200 L.
    """
    once = fill(Gauge(FILLED, 200.0, 100.0, 0.01))
    twice = fill(Gauge(FILLED, 200.0, 100.0, 0.01), Gauge(after(1), 140.0, 80.0, 0.01))
    found = angels_share([once, twice], after(1), RATES)
    decay = math.exp(-0.06)
    kept = 1.0 - found.share
    variance = (kept - decay) ** 2 + kept**2 + 0.8**2
    assert found.share == pytest.approx((100.0 * (1.0 - decay) + 20.0) / 200.0)
    assert found.high - found.share == pytest.approx(1.6449 * math.sqrt(variance) / 200.0)


@pytest.mark.parametrize(("later_l", "lost_l", "low"), [(99.9, 0.1, 0.0), (101.0, -1.0, -0.01)])
def test_an_interval_reaches_below_no_loss_only_as_far_as_the_gauges_gained(
    later_l: float, lost_l: float, low: float
) -> None:
    found = angels_share([fill(gauge(0, 100.0), gauge(1, later_l))], after(1), RATES)
    assert found.share == pytest.approx(lost_l / 100.0)
    assert found.low == pytest.approx(low)
    assert found.low <= found.share < found.high


def test_an_interval_far_from_nothing_is_as_wide_below_as_above() -> None:
    found = angels_share([fill(gauge(0, 100.0), gauge(1, 50.0))], after(1), RATES)
    assert 0.0 < found.low < found.share
    assert found.share - found.low == pytest.approx(found.high - found.share)


def test_a_dump_that_was_measured_is_what_came_out() -> None:
    dumped = fill(gauge(0, 100.0), events=(event(EventKind.DUMP, 3, 82.0),), emptied=3)
    found = angels_share([dumped], after(5), RATES)
    assert (found.taken_l, found.measured_share) == (82.0, pytest.approx(0.18))


def test_a_sample_of_unknown_amount_is_what_the_rate_does_not_explain() -> None:
    sampled = fill(gauge(0, 100.0), gauge(1, 90.0), events=(event(EventKind.SAMPLE, 0.5),))
    found = angels_share([sampled], after(1), RATES)
    assert found.taken_l == pytest.approx(100.0 * math.exp(-0.06) - 90.0)


def test_an_unknown_leak_beside_a_known_one() -> None:
    """5 L gone at half time no longer evaporate; what else is missing leaked too."""
    both = (event(EventKind.LEAK, 0.5, 5.0), event(EventKind.LEAK, 0.6))
    found = angels_share([fill(gauge(0, 100.0), gauge(1, 60.0), events=both)], after(1), RATES)
    assert found.lost_l == pytest.approx(100.0 * (1 - math.exp(-0.06)) - 5.0 * (1 - math.exp(-0.03)))
    assert found.leaked_l == pytest.approx(40.0 - found.lost_l)


@pytest.mark.parametrize(("store", "rated"), [("dry", True), ("new", False)])
def test_an_emptied_fill_says_whether_its_store_had_a_rate(store: str, rated: bool) -> None:
    assert contents_now(fill(gauge(0, 100.0), store=store, emptied=2), after(3), RATES).rated is rated


# What the wood drank, toppings, and one fill's losses

OAK = {("oak", 1): Soakage(-math.log(0.98), 0.0, 0.0, 10)}


def oak(*gauges: Gauge, events: tuple[Event, ...] = (), emptied: float | None = None) -> Fill:
    emptied_at = None if emptied is None else after(emptied)
    return Fill("F-1", "dry", FILLED, gauges, events, emptied_at, wood="oak", number=1)


def test_one_fills_losses_by_hand() -> None:
    """100 in; the wood drinks 2; sampled 1, leaked 4, drawn 20; gauged 68; a year at 6 % after that."""
    events = (
        event(EventKind.SAMPLE, 0.5, 1.0),
        event(EventKind.LEAK, 1.0, 4.0),
        event(EventKind.TRANSFER, 1.5, 20.0),
    )
    found = losses(oak(gauge(0, 100.0), gauge(2, 68.0), events=events), after(3), RATES, soakages=OAK)
    lately = 68.0 * (1.0 - math.exp(-0.06))
    assert found.soaked_l == pytest.approx(2.0)
    assert found.evaporated_l == pytest.approx(100.0 - 68.0 - 25.0 - 2.0 + lately)
    assert (found.leaked_l, found.sampled_l, found.transferred_l) == (4.0, 1.0, 20.0)
    assert (found.put_in_l, found.there_l) == (100.0, pytest.approx(68.0 - lately))
    assert found.estimated_l == pytest.approx(lately)
    assert (found.gauged_at, found.rated, found.soakage_known) == (after(2), True, True)


def test_a_first_interval_that_lost_less_than_wood_drinks_gave_it_all_to_the_wood() -> None:
    found = losses(oak(gauge(0, 100.0), gauge(0.1, 99.0)), after(0.1), RATES, soakages=OAK)
    assert (found.soaked_l, found.evaporated_l) == (pytest.approx(1.0), pytest.approx(0.0))
    gained = losses(oak(gauge(0, 100.0), gauge(0.1, 100.5)), after(0.1), RATES, soakages=OAK)
    assert (gained.soaked_l, gained.evaporated_l) == (0.0, pytest.approx(-0.5))


def test_what_was_added_was_put_in_too() -> None:
    topped = fill(gauge(0, 100.0), gauge(1, 110.0), events=(event(EventKind.TOPPING, 0.5, 16.0),))
    found = angels_share([topped], after(1), {})
    assert (found.put_in_l, found.lost_l) == (116.0, pytest.approx(6.0))
    assert found.share == pytest.approx(6.0 / 116.0)


def test_what_the_wood_drank_is_no_angels_share() -> None:
    found = angels_share([oak(gauge(0, 100.0), gauge(1, 92.0))], after(1), RATES, soakages=OAK)
    assert (found.soaked_l, found.lost_l) == (pytest.approx(2.0), pytest.approx(6.0))
    assert found.share == pytest.approx(0.06)


def test_how_surely_the_wood_drinks_widens_a_share() -> None:
    """One interval: what evaporated is 100 - 92 - 100 (1 - e^-s), so its slope by s is -100 e^-s."""
    exact = [Gauge(FILLED, 200.0, 100.0, 0.0), Gauge(after(1), 190.0, 92.0, 0.0)]
    unsure = {("oak", 1): Soakage(0.02, 0.004, 0.0, 10)}
    found = angels_share([oak(*exact)], after(1), RATES, soakages=unsure)
    assert found.high - found.share == pytest.approx(0.004 * math.exp(-0.02))


def test_a_soakage_that_is_wrong_is_wrong_for_all_casks_the_same_way() -> None:
    """One cask gauged after its first year, one since: their errors add, not cancel.

    Of the first -100 e^-s, of the second -100 e^-s (1 - e^-k), over 200 L.
    """
    once = oak(Gauge(FILLED, 200.0, 100.0, 0.0))
    twice = oak(Gauge(FILLED, 200.0, 100.0, 0.0), Gauge(after(1), 190.0, 92.0, 0.0))
    unsure = {("oak", 1): Soakage(0.02, 0.004, 0.0, 10)}
    found = angels_share([once, twice], after(1), {"dry": rate(0.06)}, soakages=unsure)
    slope = math.exp(-0.02) * (2.0 - math.exp(-0.06)) / 2.0
    assert found.high - found.share == pytest.approx(0.004 * slope)


def test_samples_and_transfers_are_told_apart() -> None:
    events = (event(EventKind.SAMPLE, 0.5, 1.0), event(EventKind.TRANSFER, 0.6, 20.0))
    found = angels_share([fill(gauge(0, 100.0), gauge(1, 75.0), events=events)], after(1), {})
    assert (found.sampled_l, found.transferred_l, found.taken_l) == (1.0, 20.0, 21.0)


KINDS = st.sampled_from(
    [EventKind.SAMPLE, EventKind.LEAK, EventKind.TRANSFER, EventKind.TOPPING, EventKind.MOVE]
)
HAPPENED = st.lists(
    st.tuples(KINDS, st.floats(0.0, 6.0), st.one_of(st.none(), st.floats(0.0, 30.0))), max_size=6
)


@given(
    st.lists(st.floats(20.0, 130.0), min_size=1, max_size=4),
    HAPPENED,
    st.floats(0.0, 7.0),
    st.one_of(st.none(), st.floats(4.5, 7.0)),
)
def test_one_fills_litres_are_all_accounted_for(
    gauges: list[float],
    happened: list[tuple[EventKind, float, float | None]],
    when: float,
    emptied: float | None,
) -> None:
    """Whatever happened, known or not, in whatever order."""
    events = tuple(event(kind, at, litres, store="humid") for kind, at, litres in happened)
    taken = [gauge(1.5 * n, litres) for n, litres in enumerate(gauges)]
    found = losses(oak(*taken, events=events, emptied=emptied), after(when), RATES, soakages=OAK)
    out = found.leaked_l + found.sampled_l + found.transferred_l
    assert found.evaporated_l + found.soaked_l + out + found.there_l == pytest.approx(found.put_in_l)
    assert min(found.soaked_l, found.leaked_l, found.sampled_l, found.transferred_l, found.there_l) >= 0.0
