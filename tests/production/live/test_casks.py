"""Casks filled, what is in them, the angel's share, and the days on which casks were filled."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.figures.figure import Basis, Registry, State, state
from kiosk.production.live import casks
from kiosk.production.live.casks import CASK_PROVIDER, MATURING, MATURING_VOLUME, casks_filled_on
from kiosk.production.live.casks import TO_DATE as ANGELS_SHARE
from kiosk.production.live.cellar import FILLED as CASKS_FILLED
from kiosk.store import rows
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from kiosk.words.figures import figure_text
from tests.production.live.conftest import YEAR, Books
from tests.words.readers import ENGLISH

FIRST = 1 * YEAR


def value(books: Books, spec: object, of: str = "") -> float | int | None:
    return books.figure(CASK_PROVIDER, spec.name, of).value  # type: ignore[attr-defined]


def test_two_shares_are_told_of_full_casks_and_of_all(books: Books) -> None:
    # Two casks lose a tenth in their year and are full; two others lost a fifth in theirs and are empty.
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    for number in (3, 4):
        begun = books.now - 3 * YEAR
        books.fill(number, begun, {0: 100, 1: 80}, emptied_at=begun + YEAR, store="ALTA")
    assert value(books, casks.TO_DATE) == pytest.approx(0.10, abs=1e-6)
    assert value(books, casks.SINCE_THE_FIRST) == pytest.approx(0.15, abs=1e-6)


def test_a_years_share_is_that_of_the_gauges_weighted_by_what_lies_in_each_store(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90}, store="BAJA")
        books.fill(number + 2, books.now - FIRST, {0: 100, 1: 80}, store="ALTA")
    assert value(books, casks.BY_STORE, "BAJA") == pytest.approx(0.1, abs=1e-6)
    assert value(books, casks.BY_STORE, "ALTA") == pytest.approx(0.2, abs=1e-6)
    # k = (90 ln(1/0.9) + 80 ln(1/0.8)) / 170, by hand.
    k = (90 * math.log(1 / 0.9) + 80 * math.log(1 / 0.8)) / 170
    figure = books.figure(CASK_PROVIDER, casks.PER_YEAR.name)
    assert figure.value == pytest.approx(1 - math.exp(-k), abs=1e-6)
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low <= figure.value <= figure.high


def test_bottles_are_of_750_ml_at_40_percent(books: Books) -> None:
    for number in (1, 2, 3):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    # 30 L of pure alcohol are gone, 0.3 L to a bottle.
    assert value(books, casks.BOTTLES) == pytest.approx(100, abs=0.01)
    # 270 L lose ln(1/0.9) of themselves a year: 94.8 bottles in 8 766 hours.
    hours = 8766 / (270 * math.log(1 / 0.9) / 0.3)
    assert value(books, casks.BOTTLE_EVERY) == pytest.approx(hours, rel=1e-4)


def test_strength_is_pure_alcohol_over_volume(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    assert value(books, casks.MATURING_ABV) == pytest.approx(60.0, abs=0.01)


def test_a_store_without_a_rate_leaves_the_year_unknown(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90}, store="BAJA")
    books.fill(3, books.now - FIRST, {0: 100}, store="ALTA")
    for spec in (casks.PER_YEAR, casks.BOTTLE_EVERY, casks.TO_DATE, casks.BOTTLES):
        assert books.figure(CASK_PROVIDER, spec.name).missing == "too_few"
    assert value(books, casks.BY_STORE, "BAJA") == pytest.approx(0.1, abs=1e-6)
    assert books.figure(CASK_PROVIDER, casks.BY_STORE.name, "ALTA").missing == "too_few"


def filled_on(books: Books, day: int, month: int) -> tuple[int, ...]:
    reader = Registry([]).reader(books.store.read, versions, books.site, books.now)
    return tuple(casks_filled_on(reader, day, month))


def test_every_cask_of_the_day_is_told_by_its_year_earliest_first(books: Books) -> None:
    for n, year in enumerate((2024, 2022, 2024), 1):
        books.fill(n, datetime(year, 3, 5, 14, 0, tzinfo=UTC), {0: 100})
    assert filled_on(books, 5, 3) == (2022, 2024, 2024)
    assert filled_on(books, 3, 5) == ()


def test_a_cask_emptied_since_was_filled_all_the_same(books: Books) -> None:
    filled_at = datetime(2024, 3, 5, 14, 0, tzinfo=UTC)
    books.fill(1, filled_at, {0: 100}, emptied_at=filled_at + YEAR)
    assert filled_on(books, 5, 3) == (2024,)


def test_the_day_is_the_sites_own(books: Books) -> None:
    books.fill(1, datetime(2024, 3, 5, 2, 0, tzinfo=UTC), {0: 100})
    assert filled_on(books, 4, 3) == (2024,)


def test_29_february_answers_for_itself(books: Books) -> None:
    books.fill(1, datetime(2024, 2, 29, 14, 0, tzinfo=UTC), {0: 100})
    assert (filled_on(books, 29, 2), filled_on(books, 1, 3)) == ((2024,), ())


def test_without_a_cask_nothing_is_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(CASK_PROVIDER).values()} == {"no_record"}


def test_full_casks_are_counted_and_emptied_ones_are_not(books: Books) -> None:
    for number in (1, 2, 3):
        books.fill(number, books.now - 1 * YEAR, {0: 114})
    books.fill(4, books.now - 2 * YEAR, {0: 114}, emptied_at=books.now - 1 * YEAR)
    figure = books.figure(CASK_PROVIDER, CASKS_FILLED.name)
    assert (figure.value, figure.basis) == (3, Basis.COUNTED)


def test_the_angels_share_follows_the_gauges(books: Books) -> None:
    # Each cask loses exactly a tenth in its year: put in 100, there now 90.
    for number in (1, 2, 3):
        books.fill(number, books.now - 1 * YEAR, {0: 100, 1: 90})
    share = books.figure(CASK_PROVIDER, ANGELS_SHARE.name)
    assert share.value == pytest.approx(0.10, abs=1e-6)
    assert share.low is not None
    assert share.high is not None
    assert share.low < 0.10 < share.high
    assert books.figure(CASK_PROVIDER, MATURING.name).value == pytest.approx(270, abs=0.01)
    assert books.figure(CASK_PROVIDER, MATURING_VOLUME.name).value == pytest.approx(450, abs=0.01)


def test_since_the_last_gauge_the_stores_rate_goes_on(books: Books) -> None:
    # A tenth in the first year; a second year at that rate leaves 81 of 100.
    for number in (1, 2, 3):
        books.fill(number, books.now - 2 * YEAR, {0: 100, 1: 90})
    assert books.figure(CASK_PROVIDER, MATURING.name).value == pytest.approx(243, abs=0.05)
    assert books.figure(CASK_PROVIDER, ANGELS_SHARE.name).value == pytest.approx(0.19, abs=1e-3)


def test_a_store_gauged_too_seldom_has_no_share_to_tell(books: Books) -> None:
    books.fill(1, books.now - 1 * YEAR, {0: 100})
    assert books.figure(CASK_PROVIDER, ANGELS_SHARE.name).missing == "too_few"
    assert books.figure(CASK_PROVIDER, MATURING.name).value == pytest.approx(100)


def test_when_every_cask_is_emptied_the_nothing_is_counted(books: Books) -> None:
    emptied_at = books.now - 0.1 * YEAR
    books.fill(1, books.now - 1 * YEAR, {0: 100}, emptied_at=emptied_at)
    assert books.figure(CASK_PROVIDER, CASKS_FILLED.name).value == 0
    assert books.figure(CASK_PROVIDER, MATURING.name).value == 0.0
    assert books.figure(CASK_PROVIDER, MATURING.name).as_of == emptied_at


def test_a_store_that_nobody_gauged_for_half_a_year_is_stale(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - 2 * YEAR, {0: 100, 1.5: 88})
    assert state(books.figure(CASK_PROVIDER, MATURING.name), MATURING, books.now) is State.STALE


SECOND = timedelta(seconds=1)


def test_a_cask_filled_this_moment_is_of_the_day_and_a_later_one_is_not(books: Books) -> None:
    books.fill(1, books.now, {0: 100})
    books.fill(2, books.now + SECOND, {})
    assert filled_on(books, 16, 6) == (2026,)


def test_what_lies_in_the_casks_is_never_less_than_nothing(books: Books) -> None:
    """Two casks of one store that lost very unlike shares: the interval would reach below zero."""
    books.fill(1, books.now - 40 * YEAR, {0: 100, 1: 99})
    books.fill(2, books.now - 40 * YEAR, {0: 100, 1: 40})
    figure = books.figure(CASK_PROVIDER, MATURING.name)
    assert figure.low == 0.0
    assert 0.0 < figure.value < figure.high  # type: ignore[operator]


def test_the_interval_of_what_is_there_is_as_wide_below_as_above_and_that_of_the_share(books: Books) -> None:
    for number, left_l in ((1, 90), (2, 88), (3, 91)):
        books.fill(number, books.now - 1.5 * YEAR, {0: 100, 1: left_l})
    there, share = (books.figure(CASK_PROVIDER, name) for name in (MATURING.name, ANGELS_SHARE.name))
    assert there.value - there.low == pytest.approx(there.high - there.value)  # type: ignore[operator]
    half_l = (share.high - share.value) * 300  # type: ignore[operator]
    assert there.high - there.value == pytest.approx(half_l)  # type: ignore[operator]
    assert there.basis is Basis.ESTIMATED


def test_bottles_and_years_are_bounded_by_the_bounds_of_share_and_rate(books: Books) -> None:
    for number, left_l in ((1, 90), (2, 88), (3, 91)):
        books.fill(number, books.now - 1.5 * YEAR, {0: 100, 1: left_l})
    share = books.figure(CASK_PROVIDER, ANGELS_SHARE.name)
    bottles = books.figure(CASK_PROVIDER, casks.BOTTLES.name)
    for litres, n in ((share.low, bottles.low), (share.value, bottles.value), (share.high, bottles.high)):
        assert n == pytest.approx(300 * litres / 0.3)  # type: ignore[operator]
    year = books.figure(CASK_PROVIDER, casks.PER_YEAR.name)
    store = books.figure(CASK_PROVIDER, casks.BY_STORE.name, "BAJA")
    assert (store.low, store.value, store.high) == pytest.approx((year.low, year.value, year.high))
    assert year.low < year.value < year.high  # type: ignore[operator]
    every = books.figure(CASK_PROVIDER, casks.BOTTLE_EVERY.name)
    for rate, hours in ((year.high, every.low), (year.value, every.value), (year.low, every.high)):
        assert hours == pytest.approx(  # type: ignore[operator]
            8766 * 0.3 / (books.figure(CASK_PROVIDER, MATURING.name).value * -math.log(1 - rate))  # type: ignore[operator]
        )


def test_a_rate_that_may_be_nothing_bounds_no_hours(books: Books) -> None:
    for number, left_l in ((1, 99), (2, 60)):
        books.fill(number, books.now - YEAR, {0: 100, 1: left_l})
    figure = books.figure(CASK_PROVIDER, casks.BOTTLE_EVERY.name)
    assert figure.value is not None
    assert (figure.low, figure.high) == (None, None)


def test_a_cask_that_nobody_gauged_does_not_weigh_in_the_year(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - FIRST, {0: 100, 1: 90})
    books.fill(3, books.now - FIRST, {})
    assert value(books, casks.PER_YEAR) == pytest.approx(0.1, abs=1e-6)


def test_without_a_gauge_what_is_there_is_not_known_and_not_nothing(books: Books) -> None:
    books.fill(1, books.now - FIRST, {})
    for spec in (MATURING, MATURING_VOLUME, casks.MATURING_ABV):
        assert books.figure(CASK_PROVIDER, spec.name).missing == "too_few"


def corrected(books: Books, fill_id: int, ago: timedelta, **values: object) -> None:
    """Correct the last gauge of a fill, some time ago."""
    g = t.gauges.c
    with books.store.write() as session:
        query = select(g.id, g.revision).where(g.fill_id == fill_id).order_by(g.at.desc()).limit(1)
        row_id, revision = session.execute(query).one()
        rows.change(session, t.gauges, row_id, revision, values, by=None, at=books.now - ago, why="misread")


@pytest.mark.parametrize(
    ("alcohol_ml", "days_ago", "says_so"), [(95_000, 1, True), (85_000, 1, False), (95_000, 8, False)]
)
def test_a_figure_to_date_that_a_correction_lowered_says_so_for_a_week(
    books: Books, alcohol_ml: int, days_ago: int, says_so: bool
) -> None:
    ids = [books.fill(number, books.now - FIRST, {0: 100, 1: 90}) for number in (1, 2)]
    before = books.figure(CASK_PROVIDER, casks.BOTTLES.name)
    assert before.corrected_at is None
    corrected(books, ids[0], timedelta(days=days_ago), alcohol_ml=alcohol_ml)
    for spec in (casks.BOTTLES, casks.SINCE_THE_FIRST, casks.TO_DATE):
        figure = books.figure(CASK_PROVIDER, spec.name)
        assert figure.corrected_at == (books.now - timedelta(days=days_ago) if says_so else None), spec.name
    words, now = ENGLISH, books.site.local(books.now)
    shown = figure_text(books.figure(CASK_PROVIDER, casks.BOTTLES.name), casks.BOTTLES, now, words, "metric")
    assert ("lower than before, because a record was corrected" in shown.basis) is says_so


def test_a_corrected_draw_lowers_a_figure_to_date_too(books: Books) -> None:
    one, _other = (books.fill(number, books.now - FIRST, {0: 100, 1: 90}) for number in (1, 2))
    lot = books.lot("L-1", books.now.date(), 10)
    books.draw(one, lot, 5.0, at=books.now - FIRST / 2)
    whole = books.figure(CASK_PROVIDER, casks.BOTTLES.name).value or 0
    with books.store.write() as session:
        row_id, revision = session.execute(select(t.draws.c.id, t.draws.c.revision)).one()
        more = {"amount": 8_000}
        rows.change(session, t.draws, row_id, revision, more, by=None, at=books.now, why="misread")
    figure = books.figure(CASK_PROVIDER, casks.BOTTLES.name)
    assert (figure.value or 0) < whole
    assert figure.corrected_at == books.now


def test_an_average_cask_is_of_those_that_were_gauged(books: Books) -> None:
    books.fill(1, books.now - FIRST, {0: 120, 1: 108})
    books.fill(2, books.now - FIRST, {0: 108, 1: 96})
    books.fill(3, books.now - FIRST, {})
    # 60 % vol: 200 L and 180 L were put in, 180 L and 160 L are left.
    assert value(books, casks.MEAN_FILLING) == pytest.approx(190)
    figure = books.figure(CASK_PROVIDER, casks.MEAN_NOW.name)
    assert figure.value == pytest.approx(170, abs=0.01)
    assert figure.low < figure.value < figure.high  # type: ignore[operator]


def test_casks_without_a_gauge_have_no_average(books: Books) -> None:
    books.fill(1, books.now - FIRST, {})
    for spec in (casks.MEAN_NOW, casks.MEAN_FILLING):
        assert books.figure(CASK_PROVIDER, spec.name).missing == "too_few"
