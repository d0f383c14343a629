"""A walk in a house begun from nothing: a stop a press, a stop closed, another guide, the finish."""

from __future__ import annotations

import re
from datetime import date, timedelta

from tests.stories.house import Country, House, Page, Screen
from tests.stories.test_a_day import saved
from tests.stories.test_who_may import choose_pin, enrolled, first_sign_in, hired

PEOPLE = {"Teo": ("guide", "583016"), "Bea": ("bar", "719204"), "Pol": ("production", "640281")}


def _person_at_a_tablet(house: House, manager: Screen, name: str) -> Screen:
    role, pin = PEOPLE[name]
    hired(manager, name, role, pin)
    screen = enrolled(house, manager, f"tablet of {name}")
    page = choose_pin(screen, first_sign_in(screen, name, pin), pin)
    assert page.status == 200, page.words
    return screen


def _next(day: str) -> str:
    return str(date.fromisoformat(day) + timedelta(days=1))


def _tour_of_today(manager: Screen) -> str:
    form = manager.get("/staff/tours/new")
    guide = re.findall(r'name="guide".*?<option value="(\d+)"[^>]*>\s*Rosa', form.body.decode(), re.S)[0]
    moment, today = (
        form.form().fields["starts_at"],
        manager.get("/staff/tours/pattern").form().fields["first"],
    )
    if moment >= f"{_next(today)}T05:00":  # the day of service ends first
        moment = f"{_next(today)}T04:59"
    group = saved(manager, form, guide=guide, flight="", places="8", starts_at=moment)
    assert re.fullmatch(r"/staff/tours/\d+", group.path), group.words
    booking = manager.submit(
        manager.get(f"{group.path}/bookings/new"), lead_name="Luz", language="es", size="3"
    )
    assert booking.path == group.path
    manager.submit(booking, "/numbers")
    return group.path


def _press(screen: Screen, tour: str, **typed: str) -> Page:
    """Press the one button at the foot of the walk."""
    page = screen.get(f"{tour}/walk")
    form = re.search(r'action="[^"]*/steps" data-walk>.*?</form>', page.body.decode(), re.S)
    assert form is not None, page.words
    named = re.findall(r'<(?:input|button)[^>]*? name="(\w+)"[^>]*? value="([^"]*)"', form[0])
    return screen.submit(page, "/steps", **{**dict(named), **typed})


def _closed_in_two_presses(bar: Screen) -> None:
    stop = bar.get("/staff/stops/cask-store")
    (reason,) = [link for link in stop.links if link.endswith("/cask-store/close/co2")]
    closed = bar.submit(bar.get(reason), ".", **{"for": "open"})
    assert "Cask store: closed" in closed.words
    assert "Opened again by: production" in closed.words


def _guests_read(house: House, language: str, stop: str = "cask-store") -> str:
    return Screen(house.base).get(f"/{language}/stops/{stop}").words


def test_a_walk_with_a_stop_closed_on_the_way(house: House, manager: Screen, country: Country) -> None:
    teo, bea, pol = (_person_at_a_tablet(house, manager, name) for name in PEOPLE)
    tour = _tour_of_today(manager)
    assert f"{tour}/walk" in manager.get("/staff/").links
    assert "Still house" in _press(manager, tour).words
    assert "Read this, then put phones away." in manager.get(f"{tour}/walk").words
    _closed_in_two_presses(bea)
    assert "Cerrado hoy: se está revisando el aire de adentro." in _guests_read(house, "es")
    assert "Closed today" not in _guests_read(house, "en", "still-house")
    before = manager.get(f"{tour}/walk").words
    assert "Cask store is closed: CO2" in before
    assert "First go to Tasting room" in before
    assert "Take over from Rosa" in teo.get(f"{tour}/walk").words
    taken = teo.submit(teo.get(f"{tour}/walk"), "/take-over")
    assert "Take over" not in taken.words
    opened = pol.submit(pol.get("/staff/house"), "/reopen")
    assert "closed" not in opened.words
    assert "Closed today" not in _guests_read(house, "en")
    short = _press(teo, tour, count="2")
    assert (short.status, "1 person is missing" in short.words) == (409, True)
    assert "Cask store" in _press(teo, tour, count="3").words
    plan = bea.get("/staff/house").words
    assert "3 guests" in plan
    _press(teo, tour)
    finished = _press(teo, tour)
    assert "Finished:" in finished.words
    assert "3 heads counted" in finished.words
