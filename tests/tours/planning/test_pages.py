"""Tours and bookings by form: a mistake names its field and loses nothing of what was typed."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest
from sqlalchemy import select, update

from kiosk.figures.service.policy import COUNTED
from kiosk.site.settings import TicketKind
from kiosk.store.tables.tours import bookings, tours
from tests.actors import Clock, Screen, running, signed_in, text_of
from tests.tasting_room import Tasting

TOUR = {"starts_at": "2026-06-17T10:00", "language": "en", "guide": "", "flight": "", "room": "main"}


def _tour(tablet: Screen, paged: Tasting, **changes: str) -> int:
    answer = tablet.post("/staff/tours/new", **{**TOUR, "places": "8", **changes})
    assert answer.status_code == 303, text_of(answer)
    return int(answer.location.rsplit("/", 1)[1])


def test_a_guide_adds_a_tour_and_sees_it_on_its_day(tablet: Screen, paged: Tasting) -> None:
    assert 'href="/staff/tours/new"' in tablet.get("/staff/").get_data(as_text=True)
    tour = _tour(tablet, paged)
    assert f'href="/staff/tours/{tour}"' not in tablet.get("/staff/").get_data(as_text=True)
    tomorrow = tablet.get("/staff/?day=2026-06-17")
    assert f'href="/staff/tours/{tour}"' in tomorrow.get_data(as_text=True)
    assert "0 people booked, 8 seats free" in text_of(tomorrow)


@pytest.mark.parametrize("day", ["soon", "0001-01-01", "9999-12-31", "2026-02-30"])
def test_a_day_that_is_none_shows_today(tablet: Screen, day: str) -> None:
    answer = tablet.get(f"/staff/?day={day}")
    assert answer.status_code == 200
    assert "Tours Tue, Jun 16" in text_of(answer)


def test_a_refused_tour_shows_what_was_typed_and_what_is_allowed(tablet: Screen, paged: Tasting) -> None:
    answer = tablet.post("/staff/tours/new", **{**TOUR, "starts_at": "half past nine", "places": "500"})
    page = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert 'value="half past nine"' in page
    assert 'value="500"' in page
    assert "“500” is not possible. Allowed: a whole number from 1 to 60." in text_of(answer)
    assert "“half past nine” is not a time that can be used." in text_of(answer)
    with paged.store.read() as session:
        assert len(session.execute(select(tours)).all()) == 1


def test_a_tour_is_changed_from_the_form_that_shows_it(tablet: Screen, paged: Tasting) -> None:
    tour = _tour(tablet, paged)
    path = f"/staff/tours/{tour}/change"
    assert 'value="2026-06-17T10:00"' in tablet.get(path).get_data(as_text=True)
    assert tablet.post(path, revision="1", **{**TOUR, "places": "12"}).status_code == 303
    assert tablet.post(path, revision="1", **{**TOUR, "places": "13"}).status_code == 409
    assert "0 of 12 seats booked" in text_of(tablet.get(f"/staff/tours/{tour}"))


def test_a_tour_is_canceled_and_brought_back(tablet: Screen, paged: Tasting) -> None:
    tour = _tour(tablet, paged)
    path = f"/staff/tours/{tour}"
    assert tablet.post(f"{path}/cancel", f"{path}/change", revision="1", why="weather").status_code == 303
    page = text_of(tablet.get(path))
    assert "canceled weather" in page
    assert "Add a booking" not in page
    assert tablet.post(f"{path}/cancel", path, revision="2", act="bring-back").status_code == 303
    assert "Add a booking" in text_of(tablet.get(path))


def test_a_booking_is_added_shown_changed_and_canceled(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}/bookings"
    said = {"lead_name": "Rosa", "language": "es", "contact": "555 0100", "notes": "a birthday"}
    wrong = tablet.post(f"{path}/new", **said, size="99", allergen="milk", access_needs="a wheelchair")
    assert wrong.status_code == 422
    page = wrong.get_data(as_text=True)
    assert "“99” is not possible. Allowed: a whole number from 1 to 20." in text_of(wrong)
    for kept in ('value="Rosa"', 'value="99"', 'value="a birthday"', 'value="a wheelchair"'):
        assert kept in page
    assert re.search(r'value="milk"\s+checked', page)
    good = tablet.post(f"{path}/new", **said, size="2", allergen="milk", access_needs="a wheelchair")
    assert good.status_code == 303
    shown = text_of(tablet.get(f"/staff/tours/{paged.tour}"))
    for words in ("Rosa", "555 0100", "Notes: a birthday", "Access needs: a wheelchair", "milk"):
        assert words in shown
    with paged.store.read() as session:
        booking = session.scalars(select(bookings.c.id).where(bookings.c.lead_name == "Rosa")).one()
    one = f"{path}/{booking}"
    assert tablet.post(one, revision="1", **said, size="3").status_code == 303
    assert tablet.post(f"{one}/cancel", one, revision="2").status_code == 303
    assert tablet.get(one).status_code == 404


def test_the_room_shows_what_bookings_asked_for(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}"
    tablet.post(
        f"{path}/bookings/new",
        lead_name="Rosa",
        language="es",
        size="2",
        notes="deaf in one ear",
        access_needs="a chair",
        allergen="nuts",
    )
    with paged.store.read() as session:
        booking = session.scalars(select(bookings.c.id).where(bookings.c.lead_name == "Rosa")).one()
    tablet.post(f"{path}/bookings/{booking}/numbers", path)
    ((need),) = tablet.get(f"{path}/tasting/state").get_json()["needs"]
    assert (need["numbers"], need["name"]) == ([3, 4], "Rosa")
    assert need["asked"] == ["nuts", "a chair", "deaf in one ear"]


def test_a_tour_is_started_and_finished_by_buttons(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}"
    for button, after in (("start", "Started:"), ("finish", "Finished:")):
        page = tablet.get(path).get_data(as_text=True)
        key = re.search(rf'name="key" value="([0-9a-f]{{32}})">\s*<button[^>]*value="{button}"', page)
        assert key is not None
        assert tablet.post(f"{path}/steps", path, key=key[1], kind=button).status_code == 303
        assert after in text_of(tablet.get(path))
    assert "Start the tour" not in text_of(tablet.get(path))
    assert "Finish the tour" not in text_of(tablet.get(path))


@pytest.mark.parametrize("role", ["bar", "trainee"])
def test_only_guides_and_managers_plan(paged: Tasting, now: datetime, role: str) -> None:
    screen = signed_in(
        running(paged.site, paged.store, Clock(now)), paged.store, paged.site, now, role, "Eva"
    )
    for path in (f"/staff/tours/{paged.tour}/change", "/staff/tours/new"):
        assert screen.get(path).status_code == 403
        assert f'href="{path}"' not in screen.get(f"/staff/tours/{paged.tour}").get_data(as_text=True)


def _with_tickets(paged: Tasting) -> Screen:
    """Return a guide's tablet in a house with two kinds of tickets, one of which only a limit names."""
    counted = next(limit for limit in paged.site.policy.limits if limit.kind in COUNTED)
    limit = replace(counted, id="short_ticket", tickets=("short",))
    policy = replace(paged.site.policy, limits=(*paged.site.policy.limits, limit))
    names = {"en": "Long tour", "es": "Recorrido largo"}
    paged.site = replace(paged.site, policy=policy, tickets=(TicketKind("long", names, Decimal("24.50")),))
    return signed_in(
        running(paged.site, paged.store, Clock(paged.now)), paged.store, paged.site, paged.now, "guide", "Eva"
    )


def test_the_kind_of_ticket_is_chosen_with_a_booking_and_shown_on_its_group(
    tablet: Screen, paged: Tasting
) -> None:
    tour = _tour(tablet, paged)
    path = f"/staff/tours/{tour}/bookings/new"
    assert 'name="ticket"' not in tablet.get(path).get_data(as_text=True)
    desk = _with_tickets(paged)
    page = desk.get(path).get_data(as_text=True)
    assert '<option value="long" selected>Long tour</option>' in page
    assert '<option value="short">short</option>' in page
    wrong = desk.post(path, size="2", lead_name="Rosa", language="en", ticket="gold")
    assert (wrong.status_code, "Allowed: long, short" in text_of(wrong)) == (422, True), text_of(wrong)
    assert '<option value="gold" selected>' in wrong.get_data(as_text=True)
    booked = desk.post(path, size="2", lead_name="Rosa", language="en", ticket="long")
    assert "Ticket: Long tour" in text_of(desk.get(booked.location))
    booking = int(booked.location.rsplit("-", 1)[1])
    change = f"/staff/tours/{tour}/bookings/{booking}"
    desk.post(change, revision="1", size="2", lead_name="Rosa", language="en", ticket="short")
    with paged.store.read() as session:
        assert session.scalar(select(bookings.c.ticket).where(bookings.c.id == booking)) == "short"


def test_a_walk_in_has_the_first_kind_of_ticket_unless_another_is_pressed(
    tablet: Screen, paged: Tasting
) -> None:
    desk = _with_tickets(paged)
    with paged.store.write() as session:
        session.execute(update(tours).values(places=20))
    page = desk.get("/staff/walk-in").get_data(as_text=True)
    assert 'name="ticket" value="long" checked' in page
    for ticket in ("long", "short"):
        path = f"/staff/tours/{paged.tour}/walk-in"
        assert desk.post(path, page="/staff/walk-in", size="1", ticket=ticket).status_code == 303
    with paged.store.read() as session:
        kinds = session.scalars(select(bookings.c.ticket).order_by(bookings.c.id.desc()).limit(2)).all()
    assert kinds == ["short", "long"]
