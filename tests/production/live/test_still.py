"""The run at the still now, today's hearts, and the balance of the last spirit run."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, Basis, State, state
from kiosk.figures.making.cuts import CUTS
from kiosk.production.live.still import (
    GAUGE_LESS_READINGS,
    HEARTS_ABV,
    HEARTS_ALCOHOL,
    HEARTS_VOLUME,
    RECOVERY,
    RECOVERY_PROVIDER,
    RUN_ABV,
    RUN_COLLECTED,
    RUN_CUT,
    RUN_PROOF,
    STILL_PROVIDER,
)
from tests.production.live.conftest import MORNING, Books, hours

EVERY = (RUN_ABV, RUN_PROOF, HEARTS_VOLUME, HEARTS_ABV)


def under_way(books: Books) -> int:
    """Record a spirit run that began at seven and was last read half an hour ago."""
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(0.5), "heads", 2, 80)
    books.parrot(run, MORNING + hours(1), "hearts", 6, 76)
    books.parrot(run, MORNING + hours(2.5), "hearts", 86, 72)
    books.parrot(run, books.now - hours(0.5), "hearts", 126, 68)
    return run


def test_a_run_under_way_says_its_latest_reading(books: Books) -> None:
    under_way(books)
    abv, proof = (books.figure(STILL_PROVIDER, spec.name) for spec in (RUN_ABV, RUN_PROOF))
    assert abv.value == pytest.approx(68.0)
    # Twice the per cent at 60 °F, which lies a little below that at 20 °C.
    assert proof.value == pytest.approx(135.9, abs=0.15)
    assert state(abv, RUN_ABV, books.now) is State.FRESH


def test_hearts_so_far_are_what_ran_since_the_cut(books: Books) -> None:
    under_way(books)
    volume, abv = (books.figure(STILL_PROVIDER, spec.name) for spec in (HEARTS_VOLUME, HEARTS_ABV))
    assert volume.value == pytest.approx(120, abs=0.2)
    # 80 L at 74 and 40 L at 70 % vol, by hand and without contraction.
    assert abv.value == pytest.approx((80 * 74 + 40 * 70) / 120, abs=0.1)


def test_two_hours_without_a_reading_are_stale(books: Books) -> None:
    under_way(books)
    later = books.now + hours(2)
    assert state(books.figure(STILL_PROVIDER, RUN_ABV.name, now=later), RUN_ABV, later) is State.STALE


def test_while_heads_run_the_hearts_are_a_measured_nothing(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(0.5), "heads", 2, 80)
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).value == 0.0
    assert books.figure(STILL_PROVIDER, HEARTS_ABV.name).missing == "none_yet"


def test_a_run_that_nobody_has_read_is_not_known(books: Books) -> None:
    books.run("SR-1", MORNING)
    assert {figure.missing for figure in books.figures(STILL_PROVIDER).values()} == {"no_reading"}


def test_after_its_end_the_still_rests_and_the_hearts_are_told(books: Books) -> None:
    run = books.run("SR-1", MORNING, MORNING + hours(3))
    books.parrot(run, MORNING + hours(1), "hearts", 6, 76)
    books.parrot(run, MORNING + hours(2), "tails", 106, 60)
    abv = books.figure(STILL_PROVIDER, RUN_ABV.name)
    assert (abv.missing, abv.as_of) == (RESTING, MORNING + hours(3))
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).value == pytest.approx(106, abs=0.3)


def test_on_a_day_without_a_run_everything_rests_since_the_last(books: Books) -> None:
    before = MORNING - timedelta(days=3)
    run = books.run("SR-1", before, before + hours(7))
    books.parrot(run, before + hours(1), "hearts", 6, 76)
    books.parrot(run, before + hours(2), "tails", 106, 60)
    found = {spec.name: books.figure(STILL_PROVIDER, spec.name) for spec in EVERY}
    assert {figure.missing for figure in found.values()} == {RESTING}
    assert found[RUN_ABV.name].as_of == before + hours(7)
    assert found[HEARTS_ABV.name].as_of == before + hours(1)


def test_a_run_left_open_days_ago_is_not_now(books: Books) -> None:
    before = MORNING - timedelta(days=3)
    run = books.run("SR-1", before)
    books.parrot(run, before + hours(1), "hearts", 6, 76)
    abv = books.figure(STILL_PROVIDER, RUN_ABV.name)
    assert (abv.missing, abv.as_of) == (RESTING, before + hours(1))


def test_on_the_day_of_a_wash_run_the_hearts_rest(books: Books) -> None:
    run = books.run("WR-1", MORNING, kind="wash")
    books.parrot(run, MORNING + hours(1), "low_wines", 60, 48)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).value == pytest.approx(48)
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).missing == "no_record"


def test_of_two_stills_at_work_the_spirit_still_speaks(books: Books) -> None:
    under_way(books)
    low_wines = books.run("WR-1", MORNING + hours(1), kind="wash")
    books.parrot(low_wines, books.now, "low_wines", 60, 48)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).value == pytest.approx(68.0)


def test_before_any_run_nothing_is_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(STILL_PROVIDER).values()} == {"no_record"}


def test_the_cut_is_that_of_the_last_reading(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    for n, cut in enumerate(("heads", "hearts", "tails")):
        books.parrot(run, MORNING + hours(n + 1), cut, 10 * n, 80 - n)
        assert books.figure(STILL_PROVIDER, RUN_CUT.name).value == CUTS.index(cut)
    assert books.figure(STILL_PROVIDER, RUN_COLLECTED.name).value == pytest.approx(20)


def test_hearts_hold_the_alcohol_that_ran_between_their_readings(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(1), "hearts", 0, 80)
    books.parrot(run, MORNING + hours(2), "tails", 100, 60)
    # 100 L that fall straight from 80 to 60 %: 70 L of pure alcohol.
    assert books.figure(STILL_PROVIDER, HEARTS_ALCOHOL.name).value == pytest.approx(70, abs=1e-6)


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
    figure = books.figure(RECOVERY_PROVIDER, RECOVERY.name)
    assert figure.value == pytest.approx((70 + 10 + 12 + 1) / 100, abs=1e-4)
    assert figure.as_of == MORNING - hours(12)


def test_a_run_under_way_is_not_the_last_one(books: Books) -> None:
    ended_run(books)
    books.run("SR-2", MORNING)
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name).as_of == MORNING - hours(12)


def test_a_receiver_that_nobody_gauged_leaves_recovery_unknown(books: Books) -> None:
    ended_run(books, hearts_l=None)
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name).missing == "no_reading"


def test_without_a_charge_on_record_nothing_is_divided(books: Books) -> None:
    run = books.run("SR-1", MORNING - hours(20), MORNING - hours(12))
    books.receiver(run, "SR-1-HT", "hearts", 100, 70)
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name).missing == "too_few"


def test_without_a_run_nothing_is_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(RECOVERY_PROVIDER).values()} == {"no_record"}


def test_the_hearts_gauge_is_compared_with_their_readings(books: Books) -> None:
    run = ended_run(books)
    # 99 L at 70 % by the readings: 69.3 L of pure alcohol, 1 % less than the gauge's 70.
    books.parrot(run, MORNING - hours(19), "hearts", 0, 70)
    books.parrot(run, MORNING - hours(14), "tails", 99, 70)
    assert books.figure(RECOVERY_PROVIDER, GAUGE_LESS_READINGS.name).value == pytest.approx(0.01, abs=1e-4)


def test_a_cut_that_ran_and_is_in_no_receiver_yet_leaves_recovery_unknown(books: Books) -> None:
    run = ended_run(books)
    books.parrot(run, MORNING - hours(19), "low_wines", 0, 70)
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name).missing == "no_reading"


def test_more_than_went_in_is_not_told(books: Books) -> None:
    run = ended_run(books)
    books.receiver(run, "SR-1-MORE", "hearts", 20, 70, fate="cask")
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name).missing == "too_few"


SECOND = timedelta(seconds=1)
DAY_BEGINS = MORNING - hours(2)
"""Five in the morning, when the service day of these tests turns."""


def test_a_run_of_this_moment_and_its_reading_count_and_later_ones_do_not(books: Books) -> None:
    run = books.run("SR-1", books.now)
    books.parrot(run, books.now, "heads", 1, 80)
    books.parrot(run, books.now + SECOND, "hearts", 2, 70)
    books.run("SR-2", books.now + SECOND)
    figure = books.figure(STILL_PROVIDER, RUN_ABV.name)
    assert (figure.value, figure.as_of) == (pytest.approx(80), books.now)
    assert (figure.basis, figure.rests_on) == (Basis.MEASURED, (f"run:{run}", "run_reading:1"))
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).value == 0.0


@pytest.mark.parametrize(("ended_at", "missing"), [(SECOND, ""), (timedelta(0), RESTING)])
def test_a_run_is_under_way_until_the_moment_of_its_end(
    books: Books, ended_at: timedelta, missing: str
) -> None:
    run = books.run("SR-1", MORNING, books.now + ended_at)
    books.parrot(run, MORNING + hours(1), "hearts", 6, 76)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).missing == missing


@pytest.mark.parametrize(("before", "missing"), [(timedelta(0), ""), (SECOND, RESTING)])
def test_a_run_that_ended_as_the_day_turned_is_of_the_day(
    books: Books, before: timedelta, missing: str
) -> None:
    run = books.run("SR-1", DAY_BEGINS - hours(7), DAY_BEGINS - before)
    books.parrot(run, DAY_BEGINS - hours(6), "hearts", 6, 76)
    books.parrot(run, DAY_BEGINS - hours(5), "hearts", 26, 74)
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).missing == missing


def test_of_two_runs_of_a_kind_the_one_that_was_read_then_the_later_one_speaks(books: Books) -> None:
    first = books.run("SR-1", MORNING)
    books.parrot(first, MORNING + hours(1), "hearts", 6, 76)
    second = books.run("SR-2", MORNING + hours(1))
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).value == pytest.approx(76)
    books.parrot(second, MORNING + hours(2), "heads", 1, 81)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).value == pytest.approx(81)


def test_hearts_of_two_runs_are_added_as_of_the_newest_reading(books: Books) -> None:
    runs = [books.run(code, MORNING - hours(1)) for code in ("SR-1", "SR-2")]
    for n, run in enumerate(runs):
        books.parrot(run, MORNING, "hearts", 0, 70)
        books.parrot(run, MORNING + hours(2 - n), "tails", 100, 70)
    books.run("SR-3", MORNING)  # not read yet
    volume, alcohol = (books.figure(STILL_PROVIDER, spec.name) for spec in (HEARTS_VOLUME, HEARTS_ALCOHOL))
    assert (volume.value, alcohol.value) == (pytest.approx(200, rel=0.01), pytest.approx(140))
    assert (volume.as_of, volume.basis) == (MORNING + hours(2), Basis.MEASURED)
    assert set(volume.rests_on) == {f"run:{run}" for run in runs}


def test_a_still_rests_since_its_last_end_or_reading_until_now(books: Books) -> None:
    before = MORNING - timedelta(days=3)
    run = books.run("SR-1", before, before + hours(2))
    books.parrot(run, before + hours(1), "hearts", 6, 76)
    wash = books.run("WR-1", before + hours(3), kind="wash")
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).as_of == before + hours(3)
    books.parrot(wash, before + hours(4), "low_wines", 6, 50)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).as_of == before + hours(4)
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).as_of == before + hours(1)


def test_at_the_moment_of_its_reading_an_old_run_rests_since_then(books: Books) -> None:
    run = books.run("SR-1", MORNING - timedelta(days=3))
    at = MORNING - timedelta(days=1)
    books.parrot(run, MORNING, "hearts", 60, 70)
    for figure in books.figures(STILL_PROVIDER, now=at).values():
        assert (figure.missing, figure.as_of) in {(RESTING, MORNING - timedelta(days=3)), ("no_record", None)}


def test_readings_that_go_back_in_volume_leave_the_hearts_unknown_and_the_still_speaks(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(1), "hearts", 60, 76)
    books.parrot(run, MORNING + hours(2), "hearts", 6, 74)
    assert books.figure(STILL_PROVIDER, HEARTS_VOLUME.name).missing == "out_of_range"
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).value == pytest.approx(74)


@pytest.mark.parametrize(("more_l", "missing"), [(10.5, ""), (12.0, "too_few")])
def test_a_recovery_a_little_above_the_whole_is_within_what_gauges_may_differ(
    books: Books, more_l: float, missing: str
) -> None:
    run = ended_run(books)  # 93 L came out of 100 L; at 70 % 10.5 L more are 7.35 L, and 12 L are 8.4 L
    books.receiver(run, "SR-1-MORE", "hearts", more_l, 70, fate="cask")
    figure = books.figure(RECOVERY_PROVIDER, RECOVERY.name)
    assert figure.missing == missing
    if not missing:
        assert (figure.rests_on, figure.basis) == ((f"run:{run}",), Basis.MEASURED)
        assert figure.value == pytest.approx(1.0035, abs=1e-3)


def test_the_last_spirit_run_is_the_one_that_ended_last_until_now(books: Books) -> None:
    ended_run(books)
    at = MORNING - hours(12)
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name, now=at).as_of == at
    assert books.figure(RECOVERY_PROVIDER, RECOVERY.name, now=at - SECOND).missing == "no_record"


def test_the_comparison_of_hearts_rests_on_the_run_and_its_receivers_and_has_no_sign(books: Books) -> None:
    run = ended_run(books)
    books.parrot(run, MORNING - hours(19), "hearts", 0, 70)
    books.parrot(run, MORNING - hours(14), "tails", 101, 70)
    figure = books.figure(RECOVERY_PROVIDER, GAUGE_LESS_READINGS.name)
    assert figure.value == pytest.approx(0.01, abs=2e-4)
    assert (figure.as_of, figure.basis) == (MORNING - hours(12), Basis.MEASURED)
    assert figure.rests_on[0] == f"run:{run}"
    assert len(figure.rests_on) == 2


def test_without_hearts_among_the_readings_there_is_no_comparison(books: Books) -> None:
    run = ended_run(books)
    assert books.figure(RECOVERY_PROVIDER, GAUGE_LESS_READINGS.name).missing == "no_reading"
    books.parrot(run, MORNING - hours(19), "tails", 0, 70)
    books.parrot(run, MORNING - hours(14), "tails", 99, 70)
    assert books.figure(RECOVERY_PROVIDER, GAUGE_LESS_READINGS.name).missing == "no_reading"
