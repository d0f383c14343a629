"""The tours that a flight is for."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
from sqlalchemy import select

from kiosk.site.settings import RouteStop
from kiosk.store import rows
from kiosk.store.tables.tours import guests, tours
from kiosk.tasting.flights.assignment import allergens_named, tasting_setup, upcoming_tours


def ahead(tasting):
    with tasting.store.read() as session:
        return upcoming_tours(session, tasting.site, tasting.now)


def test_todays_tours_are_told_with_their_guests_and_what_was_poured(tasting):
    (tour,) = ahead(tasting)
    assert (tour.letter, tour.booked, tour.poured, tour.flight_id) == ("A", 2, False, 1)
    tasting.pour(tasting.guests[0])
    assert ahead(tasting)[0].poured


@pytest.mark.parametrize(
    "change",
    [{"cancelled_at": "now"}, {"starts_at": "yesterday"}],
)
def test_a_cancelled_tour_and_one_of_yesterday_need_no_flight(tasting, change):
    when = {"now": tasting.now, "yesterday": tasting.now - timedelta(days=1)}
    values = {name: when[word] for name, word in change.items()}
    with tasting.store.write() as session:
        rows.change(session, tours, tasting.tour, 1, values, by=None, at=tasting.now)
    assert ahead(tasting) == []


def test_a_tour_brings_its_guests_its_room_and_its_time(tasting):
    route = (RouteStop("mill", 20, 5, 12), RouteStop("still", 30, 2, 12), RouteStop("room", 40, 3, 22))
    site = replace(tasting.site, route=route)
    tour = ahead(tasting)[0]
    asked = tasting_setup(site, tour, "other", now=tasting.now)
    assert (asked.guests, asked.room, asked.tour_starts) == (2, "main", tour.starts_at)
    assert asked.begins == tour.starts_at + timedelta(minutes=5 + 20 + 2 + 30 + 3)
    told = tasting_setup(site, tour, "other", guests=9, begins=time(15, 30), servers=3, now=tasting.now)
    assert (told.guests, told.servers, told.begins.astimezone(site.zone).time()) == (9, 3, time(15, 30))


def test_without_a_tour_a_full_room_is_reckoned_with_and_no_time(tasting):
    site = replace(tasting.site, route=(RouteStop("room", 40, 3, 22),))
    asked = tasting_setup(site, None, "main", now=tasting.now)
    assert (asked.guests, asked.begins, asked.servers, asked.tour_starts) == (22, None, 1, None)


@pytest.mark.parametrize(("sent", "taken"), [(-3, 1), (10_000, 500)])
def test_a_number_out_of_range_is_brought_into_it(tasting, sent, taken):
    assert tasting_setup(tasting.site, None, "main", guests=sent, now=tasting.now).guests == taken


def test_what_guests_named_is_told_by_their_numbers(tasting):
    with tasting.store.write() as session:
        first = session.execute(select(guests).order_by(guests.c.number)).first()
        named = {"allergens": ["milk", "nuts"]}
        rows.change(session, guests, first.id, first.revision, named, by=None, at=tasting.now)
    with tasting.store.read() as session:
        assert allergens_named(session, tasting.tour) == [(1, ["milk", "nuts"])]
