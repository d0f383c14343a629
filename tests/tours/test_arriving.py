"""A guest number is given once and stands for one person on the site that day."""

from __future__ import annotations

import threading
from datetime import timedelta
from functools import partial

import pytest
from sqlalchemy import select

from kiosk.store import rows
from kiosk.store.engine import run
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tours.arriving import give_numbers
from tests.tasting_room import Tasting


def _party(tasting: Tasting, size: int, **changes: object) -> int:
    with tasting.store.write() as session:
        values = {"tour_id": tasting.tour, "size": size, "language": "es", **changes}
        return rows.insert(session, bookings, values)


def _arrive(tasting: Tasting, booking_id: int, *, days: int = 0, tour: int = 0) -> list[int]:
    now = tasting.now + timedelta(days=days)
    with tasting.store.write() as session:
        return give_numbers(session, tasting.site, tour or tasting.tour, booking_id, now)


def test_numbers_go_on_where_the_day_stands(tasting: Tasting) -> None:
    assert _arrive(tasting, _party(tasting, 3)) == [3, 4, 5]
    assert _arrive(tasting, _party(tasting, 1)) == [6]


def test_guests_get_their_partys_language(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    _arrive(tasting, booking_id)
    with tasting.store.read() as session:
        spoken = session.scalars(select(guests.c.language).where(guests.c.booking_id == booking_id)).all()
    assert spoken == ["es", "es"]


def test_arriving_again_gives_only_what_is_missing(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    _arrive(tasting, booking_id)
    assert _arrive(tasting, booking_id) == []
    with tasting.store.write() as session:
        rows.change(session, bookings, booking_id, 1, {"size": 3}, by=None, at=tasting.now)
    assert _arrive(tasting, booking_id) == [5]


def test_a_new_day_begins_with_one(tasting: Tasting) -> None:
    assert _arrive(tasting, _party(tasting, 2), days=1) == [1, 2]


def test_a_cancelled_party_or_another_tours_gets_none(tasting: Tasting) -> None:
    cancelled, coming = _party(tasting, 2, cancelled_at=tasting.now), _party(tasting, 2)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, cancelled)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, coming, tour=tasting.tour + 1)


def test_desks_that_work_at_once_never_give_one_number_twice(tasting: Tasting) -> None:
    waiting = [_party(tasting, 2) for _ in range(8)]
    failed: list[Exception] = []

    def desk(booking_id: int) -> None:
        arrive = partial(
            give_numbers, site=tasting.site, tour_id=tasting.tour, booking_id=booking_id, now=tasting.now
        )
        try:
            run(tasting.store, arrive)
        except Exception as error:
            failed.append(error)

    # Twice each: an impatient second tap at another desk gives nothing.
    desks = [threading.Thread(target=desk, args=(booking_id,)) for booking_id in waiting * 2]
    for one in desks:
        one.start()
    for one in desks:
        one.join(timeout=30)
    assert failed == []
    with tasting.store.read() as session:
        assert sorted(session.scalars(select(guests.c.number))) == list(range(1, 19))


def test_nobody_arrives_for_a_cancelled_tour(tasting: Tasting) -> None:
    booking_id = _party(tasting, 2)
    with tasting.store.write() as session:
        cancelled = {"cancelled_at": tasting.now}
        rows.change(session, tours, tasting.tour, 1, cancelled, by=None, at=tasting.now)
    with pytest.raises(NoSuchRow):
        _arrive(tasting, booking_id)
