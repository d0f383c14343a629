"""Migration 0026 backwards: a number that was taken back belongs to its booking again."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import select, text

from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.migrate import downgrade, upgrade
from kiosk.store.tables.tours import guests
from kiosk.tours.checkin.arrivals import take_back_number
from tests.databases import NOW
from tests.tasting_room import Tasting, tasting_site

BEFORE = "0025"


def test_a_number_that_was_taken_back_has_its_booking_after_a_downgrade(
    empty_url: str, tmp_path: Path
) -> None:
    upgrade(empty_url)
    store = open_store(empty_url)
    tasting = Tasting.begun(store, tasting_site(tmp_path), NOW)
    with store.read() as session:
        guest = session.execute(select(guests).where(guests.c.id == tasting.guests[1])).one()
    with store.write() as session:
        rows.change(session, guests, guest.id, guest.revision, {"link_no": 1}, by=None, at=NOW)
    with store.write() as session:
        take_back_number(session, tasting.tour, guest.booking_id, guest.place, by=tasting.ana, now=NOW)
    store.close()
    downgrade(empty_url, BEFORE)
    again = open_store(empty_url)
    with again.read() as session:
        found = session.execute(
            text("SELECT booking_id, tour_id, place, number FROM guests WHERE id = :id"), {"id": guest.id}
        ).one()
    again.close()
    assert tuple(found) == (guest.booking_id, guest.tour_id, guest.place, guest.number)
    upgrade(empty_url)
