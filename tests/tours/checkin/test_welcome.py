"""The welcome drink on arrival: with alcohol only for guests who may be served, once for each."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from kiosk.site.settings import WelcomeDrink
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tours import guests
from kiosk.tours.checkin.group import group
from kiosk.tours.checkin.welcome import WelcomeRound, welcome_entries, welcome_rounds
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def arriving(sqlite_store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """Five guests: two may be served, one of them named milk; one without alcohol, a child, one unchecked."""
    site = replace(tasting_site(tmp_path), welcome_drink=WelcomeDrink.SMALL)
    begun = Tasting.begun(sqlite_store, site, now, guests=5, welcome="welcome")
    begun.check(*begun.guests[:2])
    begun.mark(begun.guests[2], "no_alcohol")
    begun.mark(begun.guests[3], "under_age")
    with sqlite_store.write() as session:
        rows.change(session, guests, begun.guests[1], 1, {"allergens": ["milk"]}, by=None, at=now)
    return begun


def _rounds(tasting: Tasting) -> list[WelcomeRound]:
    with tasting.store.read() as session:
        shown = group(session, tasting.site, tasting.tour, tasting.now)
        return list(welcome_rounds(session, tasting.site, shown))


def _numbers(rounds: list[WelcomeRound]) -> list[tuple[str, int, list[int], list[int]]]:
    return [
        (one.recipe.id, one.volume_ul, [g.number for g in one.guests], [g.number for g in one.ask_first])
        for one in rounds
    ]


def test_each_guest_waits_for_the_glass_that_they_may_have(arriving: Tasting) -> None:
    assert _numbers(_rounds(arriving)) == [
        ("welcome", QUARTER_UL, [1], [2]),  # cream in it: guest 2 is asked first
        ("welcome-sin", 0, [3, 4], []),
    ]


def test_where_the_house_serves_none_with_alcohol_everyone_gets_the_twin(arriving: Tasting) -> None:
    arriving.site = replace(arriving.site, welcome_drink=WelcomeDrink.ALCOHOL_FREE)
    assert _numbers(_rounds(arriving)) == [("welcome-sin", 0, [1, 2, 3, 4, 5], [])]
    arriving.site = replace(arriving.site, welcome_drink=WelcomeDrink.AFTER)
    assert _rounds(arriving) == []


def test_the_entries_are_granted_and_nobody_waits_twice(arriving: Tasting) -> None:
    entries = welcome_entries(_rounds(arriving), arriving.tour, new_key())
    assert len({entry["key"] for entry in entries}) == len(entries) == 3
    for entry in entries:
        answer = arriving.pour(int(str(entry["guest"])), str(entry["product"]), int(str(entry["volume_ul"])))
        assert (answer.outcome, answer.reasons) == ("poured", ())
    assert _numbers(_rounds(arriving)) == [("welcome", QUARTER_UL, [], [2]), ("welcome-sin", 0, [], [])]


def test_a_tour_without_a_welcome_drink_serves_none(
    sqlite_store: Store, now: datetime, tmp_path: Path
) -> None:
    plain = Tasting.begun(sqlite_store, tasting_site(tmp_path), now)
    assert _rounds(plain) == []
