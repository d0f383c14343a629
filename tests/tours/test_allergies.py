"""What a guest named is kept with the guest and nowhere else."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import select

from kiosk.entries.errors import Malformed
from kiosk.store.errors import NoSuchRow, Stale
from kiosk.store.tables.shared import history
from kiosk.tours.allergies import name, named
from tests.tasting_room import Tasting


def _name(tasting: Tasting, codes: list[str], *, revision: int = 1, tour: int = 0) -> None:
    with tasting.store.write() as session:
        where = (tour or tasting.tour, tasting.guests[0], revision)
        name(session, *where, codes, by=tasting.ana, at=tasting.now)


def _named(tasting: Tasting) -> tuple[str, ...]:
    with tasting.store.read() as session:
        return named(session, tasting.tour, tasting.guests[0]).codes


def test_what_is_named_takes_the_place_of_what_stood_there(tasting: Tasting) -> None:
    _name(tasting, ["coconut", "milk"])
    assert _named(tasting) == ("milk", "coconut")
    _name(tasting, ["fish"], revision=2)
    assert _named(tasting) == ("fish",)
    _name(tasting, [], revision=3)
    assert _named(tasting) == ()


def test_the_history_never_holds_what_was_named(tasting: Tasting) -> None:
    _name(tasting, ["coconut"])
    _name(tasting, [], revision=2)
    with tasting.store.read() as session:
        before = session.scalars(select(history.c.before).where(history.c.table_name == "guests")).all()
    assert len(before) == 2
    assert "coconut" not in json.dumps(before)


def test_what_stands_on_no_list_another_tours_guest_and_an_old_page_change_nothing(tasting: Tasting) -> None:
    with pytest.raises(Malformed):
        _name(tasting, ["perfume"])
    with pytest.raises(NoSuchRow):
        _name(tasting, ["milk"], tour=99)
    _name(tasting, ["milk"])
    with pytest.raises(Stale):
        _name(tasting, ["fish"])
    assert _named(tasting) == ("milk",)
