"""The balance of casks: every litre is counted once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import exp

import pytest

from kiosk.figures.casks.accounts import Account, Out, Tail, between, fit_variance, tail_since
from kiosk.figures.casks.fills import Event, EventKind, Fill, Gauge, Measure
from kiosk.figures.casks.loss_rates import Fit, LossRate, Soakage
from kiosk.figures.errors import FigureError

START = datetime(2020, 1, 1, tzinfo=UTC)
FIT = Fit({"dry": LossRate(0.06, 0.05, 0.07, 0.01, 9, 20.0)}, {("oak", 1): Soakage(0.02, 0.002, 0.004, 9)})


def after(years: float) -> datetime:
    return START + years * timedelta(days=365.25)


@pytest.mark.parametrize(
    ("kind", "where"),
    [
        (EventKind.LEAK, "leaked"),
        (EventKind.SAMPLE, "sampled"),
        (EventKind.TOPPING, "added"),
        (EventKind.TRANSFER, "transferred"),
        (EventKind.DUMP, "transferred"),
    ],
)
def test_every_kind_has_its_own_book(kind: EventKind, where: str) -> None:
    out = Out()
    out.record(kind, 3.0)
    assert getattr(out, where) == 3.0
    assert out.net == (-3.0 if kind is EventKind.TOPPING else 3.0)


def test_a_slope_is_what_a_small_change_of_the_rate_makes() -> None:
    """By a difference quotient, through a sample, a topping and soakage."""
    events = (
        Event(EventKind.SAMPLE, after(0.5), 10.0, 5.0),
        Event(EventKind.TOPPING, after(1.0), 20.0, 10.0),
    )
    cask = Fill("F", "dry", START, (Gauge(START, 200.0, 100.0),), events, wood="oak", number=1)

    def there(rate: float, soaked: float) -> Tail:
        fit = Fit(
            {"dry": LossRate(rate, rate, rate, 0.0, 2, 2.0)}, {("oak", 1): Soakage(soaked, 0.0, 0.0, 2)}
        )
        return tail_since(cask, cask.gauges[0], True, after(2), fit, Measure.ALCOHOL)

    step = 1e-6
    found = there(0.06, 0.02)
    by_rate = (there(0.06 + step, 0.02).there - found.there) / step
    by_soakage = (there(0.06, 0.02 + step).there - found.there) / step
    assert found.slopes == {
        "dry": pytest.approx(by_rate, rel=1e-4),
        ("oak", 1): pytest.approx(by_soakage, rel=1e-4),
    }
    assert found.soaked_slope == pytest.approx(
        (there(0.06, 0.02 + step).soaked - found.soaked) / step, rel=1e-4
    )


def test_an_unmeasured_topping_is_what_the_rate_does_not_explain() -> None:
    cask = Fill(
        "F",
        "dry",
        START,
        (Gauge(START, 200.0, 100.0), Gauge(after(1), 220.0, 110.0)),
        (Event(EventKind.TOPPING, after(0.5)),),
    )
    account = Account(FIT, Measure.ALCOHOL)
    account.add_fill(cask, after(1))
    assert account.measured == pytest.approx(100.0 * 0.0582355, abs=1e-5)
    assert account.out.added == pytest.approx(10.0 + account.measured)
    assert account.put_in == pytest.approx(110.0 + account.measured)


def test_a_fill_without_a_gauge_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        Account(FIT, Measure.ALCOHOL).add_fill(Fill("F", "dry", START), after(1))
    assert caught.value.reason == "too_few"


OAK = ("oak", 1)
LEFT_BY_WOOD = exp(-0.02)
DECAY = exp(-0.06)  # of a year in the dry store
UNSURE = 0.0062  # one gauge, as a share of its alcohol


def filled(*events: Event, last: float | None = None, **changes: object) -> Fill:
    """Return a first filling of 100 L of alcohol, gauged again after a year where `last` says so."""
    gauges = [Gauge(START, 200.0, 100.0)]
    gauges += [] if last is None else [Gauge(after(1), 2 * last, last)]
    return Fill("F", "dry", START, tuple(gauges), events, **{"wood": "oak", "number": 1, **changes})  # type: ignore[arg-type]


def booked(fill: Fill, years: float) -> Account:
    """Book one fill at a time after its filling."""
    account = Account(FIT, Measure.ALCOHOL)
    account.add_fill(fill, after(years))
    return account


def test_between_two_gauges_the_wood_drinks_first_and_the_rest_evaporates() -> None:
    account = booked(filled(last=90.0), 1)
    drunk = 100.0 * (1 - LEFT_BY_WOOD)
    assert (account.put_in, account.there, account.estimated) == (100.0, 90.0, 0.0)
    assert account.soaked == pytest.approx(drunk)
    assert account.measured == pytest.approx(10.0 - drunk)
    assert account.slopes == {OAK: pytest.approx(-100.0 * LEFT_BY_WOOD)}
    assert account.spread == pytest.approx((100.0 * LEFT_BY_WOOD * 0.004) ** 2)
    assert account.put_in_variance == pytest.approx((100.0 * UNSURE) ** 2)
    assert account.end_variance == pytest.approx((90.0 * UNSURE) ** 2)
    assert account.shared_variance == 0.0


def test_the_wood_drinks_no_more_than_is_gone_and_only_once() -> None:
    account = booked(filled(last=99.0), 1)
    assert (account.soaked, account.measured) == (1.0, 0.0)
    gained = booked(filled(last=101.0), 1)
    assert (gained.soaked, gained.measured) == (0.0, -1.0)
    assert OAK not in gained.slopes
    twice = filled(last=95.0)
    third = Fill("F", "dry", START, (*twice.gauges, Gauge(after(2), 180.0, 90.0)), wood="oak", number=1)
    assert booked(third, 2).soaked == account_soaked(95.0)


def account_soaked(last: float) -> float:
    """Return what the wood has drunk of a fill by its gauge after a year."""
    return booked(filled(last=last), 1).soaked


def test_what_went_and_came_between_two_gauges_is_booked_apart() -> None:
    events = (
        Event(EventKind.SAMPLE, after(0.2), 4.0, 2.0),
        Event(EventKind.LEAK, after(0.3), 2.0, 1.0),
        Event(EventKind.TRANSFER, after(0.4), 6.0, 3.0),
        Event(EventKind.TOPPING, after(0.5), 10.0, 5.0),
        Event(EventKind.MOVE, after(0.6), store="humid"),
    )
    account = booked(filled(*events, last=90.0, number=0), 1)
    assert (account.put_in, account.soaked, account.unrated) == (105.0, 0.0, set())
    assert account.measured == pytest.approx(100.0 + 5.0 - 2.0 - 1.0 - 3.0 - 90.0)
    out = account.out
    assert (out.sampled, out.leaked, out.transferred, out.added, out.net) == (2.0, 1.0, 3.0, 5.0, 1.0)


def test_since_the_last_gauge_all_is_estimated_by_the_fit() -> None:
    account = booked(filled(), 2)
    left, there = 100.0 * LEFT_BY_WOOD, 100.0 * LEFT_BY_WOOD * DECAY**2
    assert account.soaked == pytest.approx(100.0 - left)
    assert (account.there, account.measured) == (pytest.approx(there), 0.0)
    assert account.estimated == pytest.approx(left - there)
    slopes = {"dry": 2 * there, OAK: there - left}
    assert account.slopes == {key: pytest.approx(slope) for key, slope in slopes.items()}
    assert account.spread == pytest.approx((slopes["dry"] * 0.01) ** 2 + (slopes[OAK] * 0.004) ** 2)
    begun, end = 100.0 * UNSURE, 100.0 * UNSURE * LEFT_BY_WOOD * DECAY**2
    assert account.put_in_variance == pytest.approx(begun**2)
    assert account.end_variance == pytest.approx(end**2)
    assert account.shared_variance == pytest.approx(begun * end)  # one gauge is both


def test_at_the_gauge_itself_nothing_is_drunk_yet() -> None:
    account = booked(filled(), 0)
    assert (account.there, account.soaked, account.estimated) == (100.0, 0.0, 0.0)
    assert account.shared_variance == pytest.approx((100.0 * UNSURE) ** 2)


def test_what_happens_after_the_last_gauge_meets_what_is_there_then() -> None:
    events = (Event(EventKind.SAMPLE, after(2), 20.0, 10.0), Event(EventKind.TOPPING, after(3), 8.0, 4.0))
    account = booked(filled(*events, last=90.0, number=0), 3)
    at_sample = 90.0 * DECAY
    there = (at_sample - 10.0) * DECAY + 4.0
    assert account.there == pytest.approx(there)
    assert account.estimated == pytest.approx(90.0 - 10.0 + 4.0 - there)
    assert (account.put_in, account.out.sampled, account.out.added) == (104.0, 10.0, 4.0)
    assert account.shared_variance == 0.0


def test_a_move_changes_the_rate_and_a_store_without_one_keeps_all() -> None:
    moved = booked(filled(Event(EventKind.MOVE, after(1), store="humid"), number=0), 3)
    assert moved.there == pytest.approx(100.0 * DECAY)
    assert moved.unrated == {"humid"}
    assert booked(filled(number=0), 3).unrated == set()


def test_an_emptied_fill_of_which_all_was_measured_tells_what_evaporated() -> None:
    events = (Event(EventKind.SAMPLE, after(2), 2.0, 1.0), Event(EventKind.DUMP, after(3), 160.0, 80.0))
    fill = filled(*events, last=90.0, number=0, emptied_at=after(3))
    account = booked(fill, 4)
    assert (account.there, account.estimated, account.slopes) == (0.0, 0.0, {})
    assert account.measured == pytest.approx(100.0 - 1.0 - 80.0)
    assert (account.out.transferred, account.out.sampled) == (80.0, 1.0)
    assert account.end_variance == pytest.approx((UNSURE * 81.0) ** 2)
    assert booked(fill, 2.5).there > 0.0  # before it was emptied


def test_a_dump_that_nobody_measured_took_what_the_fit_leaves() -> None:
    events = (Event(EventKind.DUMP, after(3)),)
    account = booked(filled(*events, last=90.0, number=0, emptied_at=after(3)), 3)
    there = 90.0 * DECAY**2
    assert (account.there, account.out.transferred) == (0.0, pytest.approx(there))
    assert account.measured == pytest.approx(10.0)
    assert account.estimated == pytest.approx(90.0 - there)
    assert account.end_variance == pytest.approx((90.0 * UNSURE * DECAY**2) ** 2)


def test_an_emptied_fill_without_a_word_of_how_gave_what_the_fit_leaves() -> None:
    account = booked(filled(last=90.0, number=0, emptied_at=after(2)), 3)
    assert (account.there, account.out.transferred) == (0.0, pytest.approx(90.0 * DECAY))
    assert account.slopes == {"dry": pytest.approx(90.0 * DECAY)}


def test_a_measured_end_asks_no_rate_of_its_store() -> None:
    dumped = filled(Event(EventKind.DUMP, after(3), 160.0, 80.0), last=90.0, number=0, emptied_at=after(3))
    elsewhere = Fill("F", "humid", START, dumped.gauges, dumped.events, after(3))
    assert booked(elsewhere, 4).unrated == set()


@pytest.mark.parametrize(("last", "leaked"), [(80.0, 100.0 * DECAY - 80.0), (97.0, 0.0)])
def test_a_leak_that_nobody_measured_took_what_the_rate_does_not_explain(last: float, leaked: float) -> None:
    account = booked(filled(Event(EventKind.LEAK, after(0.5)), last=last, number=0), 1)
    assert account.out.leaked == pytest.approx(leaked)
    assert account.measured == pytest.approx(100.0 - last - leaked)


def test_what_was_measured_beside_an_unmeasured_leak_is_no_part_of_it() -> None:
    """10 L drawn after half a year: what was left evaporates on, and the leak took all beyond that."""
    events = (Event(EventKind.SAMPLE, after(0.5), 20.0, 10.0), Event(EventKind.LEAK, after(0.6)))
    account = booked(filled(*events, last=70.0, number=0), 1)
    half_a_year = exp(-0.03)
    expected = 100.0 - 10.0 - (100.0 * half_a_year - 10.0) * half_a_year
    assert account.measured == pytest.approx(expected)
    assert account.out.leaked == pytest.approx(100.0 - 10.0 - 70.0 - expected)


def test_what_is_taken_out_beyond_what_is_there_leaves_nothing() -> None:
    account = booked(filled(Event(EventKind.SAMPLE, after(2), 300.0, 150.0), last=90.0, number=0), 3)
    assert account.there == 0.0


def test_the_fitted_means_alone_cause_half_their_range() -> None:
    assert fit_variance({"dry": 3.0, OAK: 50.0}, FIT) == pytest.approx(
        (0.01 * 3.0) ** 2 + (0.002 * 50.0) ** 2
    )
    assert (between("dry", FIT), between(OAK, FIT)) == (0.01, 0.004)


def test_fills_add_up() -> None:
    account = Account(FIT, Measure.ALCOHOL)
    one = filled(Event(EventKind.SAMPLE, after(0.5), 2.0, 1.0), last=90.0)
    for fill in (one, filled()):
        account.add_fill(fill, after(2))
    parts = [booked(fill, 2) for fill in (one, filled())]
    for name in ("put_in", "soaked", "measured", "estimated", "there", "spread", "put_in_variance"):
        assert getattr(account, name) == pytest.approx(sum(getattr(part, name) for part in parts))
    assert account.out.sampled == 1.0
    assert account.slopes == {
        key: pytest.approx(sum(part.slopes.get(key, 0.0) for part in parts)) for key in ("dry", OAK)
    }


def test_the_volume_is_followed_as_the_alcohol_is() -> None:
    account = Account(FIT, Measure.VOLUME)
    account.add_fill(filled(Event(EventKind.SAMPLE, after(0.5), 4.0, 2.0), last=90.0, number=0), after(1))
    assert (account.put_in, account.there, account.measured) == (200.0, 180.0, 16.0)
