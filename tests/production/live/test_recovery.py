"""The account of the last spirit run: its charge against its receivers, its gauge against its readings."""

from __future__ import annotations

import pytest

from kiosk.production.live.recovery import GAUGE_LESS_READINGS, PROVIDER, RECOVERY
from tests.production.live.conftest import MORNING, Books, hours


def ended_run(books: Books, hearts_l: float | None = 100.0) -> int:
    """A run on low wines and feints, 100 L of pure alcohol in all: its receivers hold 70, 10, 12 and 1."""
    wash_run = books.run("WR-1", MORNING - hours(30), MORNING - hours(25), kind="wash")
    low_wines = books.receiver(wash_run, "WR-1-LW", "low_wines", 300, 30)
    feints = books.receiver(wash_run, "OLD-TL", "tails", 50, 20, fate="feints")
    run = books.run("SR-1", MORNING - hours(20), MORNING - hours(12))
    books.draw(low_wines, run, 90)
    books.draw(feints, run, 10)
    books.receiver(run, "SR-1-HT", "hearts", hearts_l, 70, fate="cask")
    for cut, litres in (("heads", 14.2857), ("tails", 30.0), ("pot", 100.0)):
        books.receiver(run, f"SR-1-{cut}", cut, litres, {"heads": 70, "tails": 40, "pot": 1}[cut])
    return run


def test_recovery_is_all_that_came_out_over_all_that_went_in(books: Books) -> None:
    ended_run(books)
    figure = books.figure(PROVIDER, RECOVERY.name)
    assert figure.value == pytest.approx((70 + 10 + 12 + 1) / 100, abs=1e-4)
    assert figure.as_of == MORNING - hours(12)


def test_a_run_under_way_is_not_the_last_one(books: Books) -> None:
    ended_run(books)
    books.run("SR-2", MORNING)
    assert books.figure(PROVIDER, RECOVERY.name).as_of == MORNING - hours(12)


def test_a_receiver_that_nobody_gauged_leaves_recovery_unknown(books: Books) -> None:
    ended_run(books, hearts_l=None)
    assert books.figure(PROVIDER, RECOVERY.name).missing == "no_reading"


def test_without_a_charge_on_record_nothing_is_divided(books: Books) -> None:
    run = books.run("SR-1", MORNING - hours(20), MORNING - hours(12))
    books.receiver(run, "SR-1-HT", "hearts", 100, 70)
    assert books.figure(PROVIDER, RECOVERY.name).missing == "too_few"


def test_without_a_run_nothing_is_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(PROVIDER).values()} == {"no_record"}


def test_the_hearts_gauge_is_compared_with_their_readings(books: Books) -> None:
    run = ended_run(books)
    # 99 L at 70 % by the readings: 69.3 L of pure alcohol, 1 % less than the gauge's 70.
    books.parrot(run, MORNING - hours(19), "hearts", 0, 70)
    books.parrot(run, MORNING - hours(14), "tails", 99, 70)
    assert books.figure(PROVIDER, GAUGE_LESS_READINGS.name).value == pytest.approx(0.01, abs=1e-4)


def test_a_cut_that_ran_and_is_in_no_receiver_yet_leaves_recovery_unknown(books: Books) -> None:
    run = ended_run(books)
    books.parrot(run, MORNING - hours(19), "low_wines", 0, 70)
    assert books.figure(PROVIDER, RECOVERY.name).missing == "no_reading"


def test_more_than_went_in_is_not_told(books: Books) -> None:
    run = ended_run(books)
    books.receiver(run, "SR-1-MORE", "hearts", 20, 70, fate="cask")
    assert books.figure(PROVIDER, RECOVERY.name).missing == "too_few"
