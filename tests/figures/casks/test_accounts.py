"""The working parts of `casks`: every litre is booked once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.casks.accounts import Account, Out, Tail, since
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
    out.book(kind, 3.0)
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
        return since(cask, cask.gauges[0], True, after(2), fit, Measure.ALCOHOL)

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
    account.book(cask, after(1))
    assert account.measured == pytest.approx(100.0 * 0.0582355, abs=1e-5)
    assert account.out.added == pytest.approx(10.0 + account.measured)
    assert account.put_in == pytest.approx(110.0 + account.measured)


def test_a_fill_without_a_gauge_is_refused() -> None:
    with pytest.raises(FigureError) as caught:
        Account(FIT, Measure.ALCOHOL).book(Fill("F", "dry", START), after(1))
    assert caught.value.reason == "too_few"
