"""Bookings come with names, numbers and what they said at the desk."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from kiosk.demo import tables
from kiosk.demo.booking import add_bookings, add_flights, add_tours
from kiosk.figures.drinks import ServiceState, guest_state
from kiosk.production.importing.faults import RecordFaults
from kiosk.site.settings import Measure
from kiosk.store.engine import Store
from kiosk.store.tables import tours
from kiosk.tasting.flights.planning import Item, items
from kiosk.tasting.room.guest_marks import of_guest
from tests.actors import hire, small_site

FLIGHTS = "flight,pos,product,measure\nsmall,1,blanco,quarter-ounce\nsmall,2,ponche-sin,quarter-ounce\n"
TOURS = "day,letter,starts_at,route,languages,guide,flight,room,places,private\n" + (
    "2026-06-16,A,09:30,estate,en es,Ana,small,main,22,yes\n"
)
BOOKINGS = (
    "ticket,day,tour,size,language,lead_name,notes,first_names,no_alcohol,under_age,arrived,allergens\n"
    "T-1,2026-06-16,A,4,es,Luz,,Luz Sol,1,1,yes,milk coconut\n"
    "T-2,2026-06-16,A,2,en,Wren,,,0,0,no,\n"
)


def test_a_booking_becomes_tour_parties_guests_and_marks(
    sqlite_store: Store, tmp_path: Path, now: datetime
) -> None:
    site = small_site(tmp_path, measures=(Measure("quarter-ounce", 7394),))
    ana = hire(sqlite_store, site, now)
    for name, text in (("flights", FLIGHTS), ("tours", TOURS), ("bookings", BOOKINGS)):
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    with sqlite_store.write() as session:
        flights = add_flights(
            session, site, tables.table(tmp_path / "flights.csv", tables.FLIGHTS, site.zone)
        )
        booked = tables.table(tmp_path / "tours.csv", tables.TOURS, site.zone)
        tour_ids = add_tours(session, site, booked, flights, {"Ana": ana})
        bookings = tables.table(tmp_path / "bookings.csv", tables.BOOKINGS, site.zone)
        add_bookings(session, site, bookings, tour_ids, ana, now)
    with sqlite_store.read() as session:
        tour = session.execute(select(tours.tours)).one()
        found = session.execute(select(tours.guests).order_by(tours.guests.c.number)).all()
        states = [guest_state(of_guest(session, guest.id)) for guest in found]
        flight = items(session, site, tour.flight_id)
    assert tour.starts_at == datetime(2026, 6, 16, 9, 30, tzinfo=site.zone)
    assert (tour.private, tour.guide_id, tour.languages) == (True, ana, ["en", "es"])
    assert [(guest.number, guest.first_name, guest.language) for guest in found] == [
        (1, "Luz", "es"),
        (2, "Sol", "es"),
        (3, None, "es"),
        (4, None, "es"),
    ]
    assert [guest.allergens for guest in found] == [["milk", "coconut"], None, None, None]
    assert states == [
        ServiceState.NOT_CHECKED,
        ServiceState.NOT_CHECKED,
        ServiceState.NO_ALCOHOL,
        ServiceState.UNDER_AGE,
    ]
    assert flight == (Item(1, "blanco", 7394), Item(2, "ponche-sin", 7394))


def test_a_time_that_is_none_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "tours.csv"
    path.write_text(TOURS.replace("09:30", "9.30"), encoding="utf-8")
    with pytest.raises(RecordFaults, match=r"tours\.csv, row 2, starts_at: 9\.30 is not a time of day"):
        tables.table(path, tables.TOURS, small_site(tmp_path).zone)
