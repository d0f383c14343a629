"""Sealed stock: received with a document, moved, counted, and less by each bottle opened."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.entries.errors import Malformed
from kiosk.tasting.bottles.stock import sealed
from tests.bar import approval_of, opened, stocked
from tests.tasting_room import Tasting, tasting_site


def here(tasting, room="main", since=None):
    with tasting.store.read() as session:
        found = sealed(session, room, tasting.now + timedelta(hours=1), since)
    return found.get((approval_of(tasting, "blanco"), 750))


def test_what_came_went_and_was_opened_adds_up(tasting):
    stocked(tasting, "received", 6)
    stocked(tasting, "returned", 1)
    opened(tasting)
    found = here(tasting)
    assert (found.bottles, found.received, found.moved_out, found.counted_at) == (4, 6, 1, None)


def test_a_count_takes_the_place_of_what_was_reckoned(tasting):
    stocked(tasting, "received", 6, at=tasting.now - timedelta(hours=2))
    stocked(tasting, "counted", 5, at=tasting.now - timedelta(hours=1))
    opened(tasting)
    found = here(tasting, since=tasting.now - timedelta(minutes=90))
    assert (found.bottles, found.received, found.counted_at) == (4, 0, tasting.now - timedelta(hours=1))


def test_of_stock_that_nobody_keeps_a_bottle_comes_in_as_it_is_opened(tasting):
    opened(tasting)
    found = here(tasting)
    assert (found.bottles, found.received, found.counted_at) == (0, 1, None)


def test_moved_stock_is_in_the_other_room(sqlite_store, tmp_path, now):
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path, rooms=("main", "cellar")), now)
    stocked(tasting, "received", 6)
    origin = tasting.origin()
    for _ in range(2):
        stocked(tasting, "moved", 2, to_room="cellar", origin=origin)
    assert (here(tasting).bottles, here(tasting, "cellar").bottles) == (4, 2)
    assert (here(tasting).moved_out, here(tasting, "cellar").moved_in) == (2, 2)


@pytest.mark.parametrize(
    ("kind", "n", "changes"),
    [
        ("received", 3, {"document": None}),
        ("received", -1, {}),
        ("lost", 1, {}),
        ("moved", 1, {"to_room": "main"}),
        ("moved", 1, {"to_room": "nowhere"}),
        ("received", 1, {"room": "nowhere"}),
    ],
)
def test_what_makes_no_sense_is_refused(tasting, kind, n, changes):
    with pytest.raises(Malformed):
        stocked(tasting, kind, n, **changes)
