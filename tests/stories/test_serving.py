"""A house behind https, and a house that lost its only tablet and whose manager forgot the PIN."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.stories.house import PIN, Country, House, Page, Screen, kiosk, new_site, served_behind_tls
from tests.tls_front import trusting

CODE = re.compile(r"one-time code: ([A-Z0-9]{4}-[A-Z0-9]{4})")
NEW_PIN = "731946"


@pytest.fixture(scope="module")
def served(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[House, str]]:
    """A new house whose staff pages open over https alone, and its address behind a proxy."""
    folder: Path = tmp_path_factory.mktemp(f"https-{country.name}") / "site"
    new_site(folder, country)
    with served_behind_tls(folder) as (house, behind):
        yield behind, house.base


def _enrol(screen: Screen, code: str, **more: str) -> Page:
    return screen.submit(screen.get("/staff/enrol"), code=code, language="en", **more)


def _sign_in(screen: Screen, pin: str) -> Page:
    """Sign in the only person by name and PIN: one form, sent once."""
    page = screen.get("/staff/sign-in")
    (person,) = re.findall(r'name="person" value="(\d+)"', page.body.decode())
    return screen.submit(page, person=person, pin=pin)


def staff_enrol_and_sign_in_behind_a_proxy_that_takes_off_tls(served: tuple[House, str]) -> None:
    house, https = served
    assert Screen(house.base.replace("127.0.0.1", "localhost")).get("/staff/enrol").status == 403
    screen = Screen(https, trusting())
    enrolled = _enrol(screen, house.code, name="Rosa", pin=PIN, pin_again=PIN)
    assert enrolled.status == 200, enrolled.words
    assert _sign_in(screen, PIN).path == "/staff/"
    assert {cookie.secure for cookie in screen.cookies} == {True}


def the_lost_tablet_and_the_forgotten_pin_are_replaced_at_the_computer(served: tuple[House, str]) -> None:
    house, https = served
    screen = Screen(https, trusting())
    strange = screen.get("/staff/")
    assert strange.status == 404
    assert "kiosk enrol" in strange.words
    assert "/staff/enrol" in strange.links
    printed = kiosk("enrol", "--site", str(house.folder), "--new-pin", "rosa").stdout
    (code,) = CODE.findall(printed)
    (pin,) = re.findall(r"Rosa signs in with the PIN (\d{6})", printed)
    assert _enrol(screen, code).status == 200
    asked = _sign_in(screen, pin)
    assert asked.path == "/staff/pin"
    same = screen.submit(asked, pin=pin, pin_again=pin)
    assert same.status == 422
    assert screen.get("/staff/people").path == "/staff/pin"
    opened = screen.submit(same, pin=NEW_PIN, pin_again=NEW_PIN)
    assert opened.path == "/staff/"
    assert "sign-in unlocked on the computer" in screen.get("/staff/people").words


def test_a_house_is_served_over_https_and_never_locked_out(served: tuple[House, str]) -> None:
    staff_enrol_and_sign_in_behind_a_proxy_that_takes_off_tls(served)
    the_lost_tablet_and_the_forgotten_pin_are_replaced_at_the_computer(served)
