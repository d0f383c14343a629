"""The demo's people can sign in, its parties come with what they said, its bar has stock and open bottles."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from kiosk.demo.records import (
    add_bookings,
    add_flights,
    add_staff,
    add_tours,
    read_table,
    sign_ins,
)
from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import ServiceState, guest_state
from kiosk.site.loading import load_site
from kiosk.site.settings import Measure
from kiosk.site.shipped import shipped
from kiosk.staff.people import check_shape, matches
from kiosk.store.engine import Store, open_store
from kiosk.store.tables import tours
from kiosk.store.tables.staff import staff
from kiosk.tasting.bottles.shelf import shelf
from kiosk.tasting.bottles.stock import sealed
from kiosk.tasting.flights.planning import Item, items
from tests.actors import hire, small_site
from tests.databases import DEMO_NOW, DemoCopy

FLIGHTS = "flight,pos,product,measure\nsmall,1,blanco,quarter-ounce\nsmall,2,ponche-sin,quarter-ounce\n"
TOURS = "day,letter,starts_at,route,languages,guide,flight,room,places,private\n" + (
    "2026-06-16,A,09:30,estate,en es,Ana,small,main,22,yes\n"
)
BOOKINGS = (
    "ticket,day,tour,size,language,lead_name,notes,first_names,no_alcohol,under_age,arrived,checked,allergens\n"
    "T-1,2026-06-16,A,4,es,Luz,,Luz Sol,1,1,09:20,09:22,milk coconut\n"
    "T-2,2026-06-16,A,2,en,Wren,,,0,0,,,\n"
)


def test_a_booking_becomes_tour_parties_guests_and_marks(
    sqlite_store: Store, tmp_path: Path, now: datetime
) -> None:
    site = small_site(tmp_path, measures=(Measure("quarter-ounce", 7394),))
    ana = hire(sqlite_store, site, now)
    for name, text in (("flights", FLIGHTS), ("tours", TOURS), ("bookings", BOOKINGS)):
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    with sqlite_store.write() as session:
        flights = add_flights(session, site, read_table(tmp_path / "flights.csv"))
        booked = read_table(tmp_path / "tours.csv")
        tour_ids = add_tours(session, site, booked, flights, {"Ana": ana})
        bookings = read_table(tmp_path / "bookings.csv")
        add_bookings(session, site, bookings, tour_ids, ana)
    with sqlite_store.read() as session:
        tour = session.execute(select(tours.tours)).one()
        found = session.execute(select(tours.guests).order_by(tours.guests.c.number)).all()
        states = [guest_state(marks_by_guest(session, [guest.id])[guest.id]) for guest in found]
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
        ServiceState.MAY_BE_SERVED,
        ServiceState.MAY_BE_SERVED,
        ServiceState.NO_ALCOHOL,
        ServiceState.UNDER_AGE,
    ]
    assert flight == (Item(1, "blanco", 7394), Item(2, "ponche-sin", 7394))


def test_a_time_that_is_none_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "tours.csv"
    path.write_text(TOURS.replace("09:30", "9.30"), encoding="utf-8")
    with pytest.raises(ValueError, match=r"tours\.csv, row 2, starts_at: 9\.30 is not a time of day"):
        read_table(path)


def test_each_hash_is_its_own_persons(sqlite_store: Store, tmp_path: Path, now: datetime) -> None:
    site = small_site(tmp_path)
    people = read_table(shipped("demo_site") / "staff.csv")
    with sqlite_store.write() as session:
        ids = add_staff(session, site, people, now)
    with sqlite_store.read() as session:
        kept = {row.name: row for row in session.execute(select(staff))}
    assert {name: kept[name].id for name in kept} == ids
    for person in people:
        name, pin = str(person["name"]), str(person["pin"])
        check_shape(pin)
        assert matches(pin, kept[name].pin_hash, site)
        assert any(name in line and pin in line for line in sign_ins(people))


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory, prepared_demo: DemoCopy) -> tuple[Path, str, datetime]:
    """A demo as of one afternoon."""
    made = prepared_demo(tmp_path_factory.mktemp("bar") / "site")
    return made.folder, made.database, DEMO_NOW


def test_every_bottle_of_the_demo_is_weighed_and_believed(prepared: tuple[Path, str, datetime]) -> None:
    folder, database, now = prepared
    site, store = load_site(folder, database=database), open_store(database)
    with store.read() as session:
        bottles = shelf(session, site, site.rooms[0])
        stock = sealed(session, site.rooms[0], now)
    store.close()
    assert {bottle.product for bottle in bottles} >= {"blanco", "anejo", "reserva", "jengibre"}
    for bottle in bottles:
        told = bottle.account()
        assert bottle.density_g_ml is not None
        assert told.weighed is not None
        assert not told.findings
        assert told.tare_g is not None
        assert 400 < told.tare_g < 700
        assert 200_000 < told.level_ul < 750_000
    assert all(one.bottles > 0 for one in stock.values())
    assert len(stock) == len(bottles)
