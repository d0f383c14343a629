"""Casks filled, what is in them, and the angels' share: counted, estimated or not known."""

from __future__ import annotations

import pytest

from kiosk.figures.figure import Basis, State, state
from kiosk.production.live.angels import MATURING, MATURING_VOLUME
from kiosk.production.live.angels import TO_DATE as ANGELS_SHARE
from kiosk.production.live.casks import PROVIDER
from kiosk.production.live.cellar import FILLED as CASKS_FILLED
from tests.production.live.conftest import YEAR, Books


def test_without_a_cask_nothing_is_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(PROVIDER).values()} == {"no_record"}


def test_full_casks_are_counted_and_emptied_ones_are_not(books: Books) -> None:
    for number in (1, 2, 3):
        books.fill(number, books.now - 1 * YEAR, {0: 114})
    books.fill(4, books.now - 2 * YEAR, {0: 114}, emptied_at=books.now - 1 * YEAR)
    figure = books.figure(PROVIDER, CASKS_FILLED.name)
    assert (figure.value, figure.basis) == (3, Basis.COUNTED)


def test_the_angels_share_follows_the_gauges(books: Books) -> None:
    # Each cask loses exactly a tenth in its year: put in 100, there now 90.
    for number in (1, 2, 3):
        books.fill(number, books.now - 1 * YEAR, {0: 100, 1: 90})
    share = books.figure(PROVIDER, ANGELS_SHARE.name)
    assert share.value == pytest.approx(0.10, abs=1e-6)
    assert share.low is not None
    assert share.high is not None
    assert share.low < 0.10 < share.high
    assert books.figure(PROVIDER, MATURING.name).value == pytest.approx(270, abs=0.01)
    assert books.figure(PROVIDER, MATURING_VOLUME.name).value == pytest.approx(450, abs=0.01)


def test_since_the_last_gauge_the_stores_rate_goes_on(books: Books) -> None:
    # A tenth in the first year; a second year at that rate leaves 81 of 100.
    for number in (1, 2, 3):
        books.fill(number, books.now - 2 * YEAR, {0: 100, 1: 90})
    assert books.figure(PROVIDER, MATURING.name).value == pytest.approx(243, abs=0.05)
    assert books.figure(PROVIDER, ANGELS_SHARE.name).value == pytest.approx(0.19, abs=1e-3)


def test_a_store_gauged_too_seldom_has_no_share_to_tell(books: Books) -> None:
    books.fill(1, books.now - 1 * YEAR, {0: 100})
    assert books.figure(PROVIDER, ANGELS_SHARE.name).missing == "too_few"
    assert books.figure(PROVIDER, MATURING.name).value == pytest.approx(100)


def test_when_every_cask_is_emptied_the_nothing_is_counted(books: Books) -> None:
    emptied_at = books.now - 0.1 * YEAR
    books.fill(1, books.now - 1 * YEAR, {0: 100}, emptied_at=emptied_at)
    assert books.figure(PROVIDER, CASKS_FILLED.name).value == 0
    assert books.figure(PROVIDER, MATURING.name).value == 0.0
    assert books.figure(PROVIDER, MATURING.name).as_of == emptied_at


def test_a_store_that_nobody_gauged_for_half_a_year_is_stale(books: Books) -> None:
    for number in (1, 2):
        books.fill(number, books.now - 2 * YEAR, {0: 100, 1.5: 88})
    assert state(books.figure(PROVIDER, MATURING.name), MATURING, books.now) is State.STALE
