"""PINs that another person chose, own PINs, wrong PINs on record, and the way back in at the console."""

from __future__ import annotations

from datetime import datetime

import pytest
from flask import Flask

from kiosk.cli.site import print_code
from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal
from kiosk.store.engine import Store
from tests.actors import PIN, Screen, hire, text_of
from tests.small_app import EACH_DATABASE
from tests.staff.refusals import refused

OWN = "731946"

pytestmark = EACH_DATABASE


@pytest.fixture
def manager(app: Flask, site_store: Store, site: Site, now: datetime) -> Screen:
    """A tablet on which the only manager, Nora, is signed in."""
    screen, nora = Screen(app), hire(site_store, site, now, "Nora", ("manager",))
    screen.enrol(site_store, site, now, name="office")
    screen.sign_in(nora)
    return screen


@pytest.fixture
def bar(app: Flask, manager: Screen, site_store: Store, site: Site, now: datetime) -> Screen:
    """A second tablet."""
    screen = Screen(app)
    screen.enrol(site_store, site, now, name="bar")
    return screen


def test_a_pin_chosen_by_a_manager_opens_nothing_but_the_page_to_change_it(
    manager: Screen, bar: Screen
) -> None:
    manager.post("/staff/people", name="Celia", pin="583920", role="bar", language="en")
    assert bar.sign_in(2, "583920").status_code == 302
    assert bar.get("/staff/").headers["Location"] == "/staff/pin"
    assert bar.post("/staff/pin", pin="583920", pin_again="583920").status_code == 422
    assert bar.post("/staff/pin", pin=OWN, pin_again="583920").status_code == 422
    assert bar.post("/staff/pin", pin=OWN, pin_again=OWN).headers["Location"] == "/staff/"
    assert bar.get("/staff/").status_code == 200
    bar.post("/staff/sign-out", page="/staff/")
    assert bar.sign_in(2, "583920").status_code == 403


def test_an_own_pin_is_changed_with_the_present_one_and_ends_sign_ins_elsewhere(
    manager: Screen, bar: Screen
) -> None:
    assert bar.sign_in(1).status_code == 302
    wrong = manager.post("/staff/pin", present="985203", pin=OWN, pin_again=OWN)
    assert wrong.status_code == 403
    assert 'id="e-present"' in wrong.get_data(as_text=True)
    manager.post("/staff/people/1", page="/staff/people", act="lift")
    assert manager.post("/staff/pin", present=PIN, pin=OWN, pin_again=OWN).status_code == 303
    assert manager.get("/staff/").status_code == 200
    assert bar.get("/staff/").headers["Location"].startswith("/staff/sign-in")


def test_a_manager_resets_a_pin_which_is_shown_once(
    manager: Screen, bar: Screen, site_store: Store, site: Site, now: datetime
) -> None:
    celia = hire(site_store, site, now, "Celia", ("bar",))
    bar.sign_in(celia)
    page = manager.post(f"/staff/people/{celia}/pin", page=f"/staff/people/{celia}").get_data(as_text=True)
    pin = page.split('class="one-time-code">')[1][:6]
    assert pin not in manager.get(f"/staff/people/{celia}").get_data(as_text=True)
    assert bar.get("/staff/").headers["Location"].startswith("/staff/sign-in")
    assert bar.sign_in(celia, pin).status_code == 302
    assert bar.get("/staff/").headers["Location"] == "/staff/pin"
    assert manager.post("/staff/people/999/pin", page="/staff/people").status_code == 404


def test_managers_see_wrong_pins_and_who_unlocked_a_sign_in(manager: Screen, bar: Screen) -> None:
    bar.sign_in(1, "985203")
    manager.post("/staff/people/1", page="/staff/people", act="lift")
    assert bar.sign_in(1).status_code == 302
    seen = text_of(manager.get("/staff/people"))
    assert "Nora wrong PIN on bar" in seen
    assert "Nora sign-in unlocked by Nora" in seen


def test_the_console_lets_the_only_manager_in_again(
    manager: Screen, bar: Screen, app: Flask, site_store: Store, site: Site, now: datetime
) -> None:
    for _ in range(3):
        bar.sign_in(1, "985203")
    assert bar.sign_in(1).status_code == 429
    lines = print_code(site_store, site, now, new_pin="NORA")
    assert bar.sign_in(1).status_code == 403  # the former PIN, and no wait
    pin = lines[-1].split("PIN ")[1][:6]
    spare = Screen(app)
    spare.post("/staff/enrol", code=lines[0].rsplit(" ", 1)[1])
    assert spare.sign_in(1, pin).status_code == 302
    with refused(Refusal.NO_SUCH_PERSON):
        print_code(site_store, site, now, new_pin="Bruno")
    with refused(Refusal.NAME_TAKEN):
        print_code(site_store, site, now, name="bar")


def test_a_strange_browser_learns_how_to_enrol_and_of_no_page(screen: Screen) -> None:
    answers = [
        screen.get(path) for path in ("/staff/", "/staff/people", "/staff/nothing-here", "/staff/sign-out")
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({text_of(answer) for answer in answers}) == 1
    assert "/staff/enrol" in text_of(answers[0])


def test_wrong_codes_take_no_write_lock_and_are_soon_refused(screen: Screen, site_store: Store) -> None:
    token = screen.token("/staff/enrol")
    with site_store.write():  # another thread's write would wait for this one, and a nested one fails
        answers = [
            screen.client.post("/staff/enrol", data={"form_token": token, "code": "AAAA-AAAA"}).status_code
            for _ in range(22)
        ]
    assert answers == [403] * 20 + [429] * 2
