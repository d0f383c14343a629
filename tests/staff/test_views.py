"""The staff pages through a browser's eyes."""

from __future__ import annotations

import re
from datetime import datetime

import pytest
from flask import Flask
from sqlalchemy import select

from kiosk.site.settings import Site
from kiosk.staff.devices import list_devices, new_code
from kiosk.staff.people import members
from kiosk.store.engine import Store
from kiosk.store.tables.shared import history
from tests.actors import PIN, Clock, Screen, hire


def code_for(store: Store, site: Site, now: datetime, name: str = "first", kind: str = "tablet") -> str:
    """Make a code."""
    with store.write() as session:
        return new_code(session, site, name, kind, None, now)


def test_the_first_enrolment_makes_the_first_manager(
    screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    code = code_for(sqlite_store, site, now)
    answer = screen.post("/staff/enrol", code=code, name="Ana", pin=PIN, pin_again=PIN)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/staff/sign-in")
    with sqlite_store.read() as session:
        assert [(one.name, "manager" in one.roles) for one in members(session, site, now)] == [("Ana", True)]
    assert screen.sign_in(1).headers["Location"] == "/staff/"
    assert screen.get("/staff/devices").status_code == 200


@pytest.mark.parametrize(
    "fields",
    [
        {"name": "", "pin": PIN, "pin_again": PIN},
        {"name": "Ana", "pin": "123456", "pin_again": "123456"},
        {"name": "Ana", "pin": PIN, "pin_again": "402918"},
    ],
)
def test_a_first_manager_who_cannot_be_made_leaves_the_code_unused(
    screen: Screen, sqlite_store: Store, site: Site, now: datetime, fields: dict[str, str]
) -> None:
    code = code_for(sqlite_store, site, now)
    refused = screen.post("/staff/enrol", code=code, **fields)
    assert refused.status_code == 422
    assert 'aria-invalid="true"' in refused.get_data(as_text=True)
    assert screen.post("/staff/enrol", code=code, name="Ana", pin=PIN, pin_again=PIN).status_code == 302


def test_later_enrolments_make_nobody(screen: Screen, sqlite_store: Store, site: Site, now: datetime) -> None:
    hire(sqlite_store, site, now)
    assert 'name="pin"' not in screen.get("/staff/enrol").get_data(as_text=True)
    screen.post("/staff/enrol", code=code_for(sqlite_store, site, now), name="Eve", pin=PIN, pin_again=PIN)
    with sqlite_store.read() as session:
        assert [one.name for one in members(session, site, now)] == ["Ana"]


def test_a_guests_screen_goes_to_the_guests_pages(
    screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    hire(sqlite_store, site, now)
    code = code_for(sqlite_store, site, now, kind="kiosk")
    assert screen.post("/staff/enrol", code=code).headers["Location"] == "/"
    assert screen.get("/staff/sign-in").status_code == 404


def test_a_wrong_code_is_told_at_its_field(screen: Screen) -> None:
    answer = screen.post("/staff/enrol", code="AAAA-AAAA", name="Ana", pin=PIN, pin_again=PIN)
    assert answer.status_code == 403
    assert "was used" in answer.get_data(as_text=True)
    assert screen.cookie("kiosk_device") is None


def test_a_wrong_pin_keeps_the_name_chosen_and_never_shows_the_pin(tablet: Screen) -> None:
    answer = tablet.sign_in(1, "985203")
    page = answer.get_data(as_text=True)
    assert answer.status_code == 403
    assert re.search(r'value="1" required checked', page)
    assert "985203" not in page
    assert tablet.sign_in(1).status_code == 429


def test_signing_in_goes_on_to_where_one_wanted(tablet: Screen) -> None:
    asked = tablet.get("/staff/?day=1")
    assert asked.headers["Location"] == "/staff/sign-in?to=/staff/?day%3D1"
    assert 'name="to" value="/staff/?day=1"' in tablet.get(asked.headers["Location"]).get_data(as_text=True)
    assert tablet.sign_in(1, to="/staff/?day=1").headers["Location"] == "/staff/?day=1"


def test_signing_in_never_leads_off_the_site(tablet: Screen) -> None:
    assert tablet.sign_in(1, to="//evil.example/").headers["Location"] == "/staff/"


def test_signing_out_ends_it(tablet: Screen) -> None:
    tablet.sign_in(1)
    taken = tablet.cookie("kiosk_person")
    assert taken is not None
    tablet.post("/staff/sign-out", page="/staff/")
    tablet.client.set_cookie(tablet.cookie_name("kiosk_person"), taken.value)
    assert tablet.get("/staff/").status_code == 302


def test_two_people_share_a_tablet_by_a_tap(
    tablet: Screen, sqlite_store: Store, site: Site, clock: Clock
) -> None:
    other = hire(sqlite_store, site, clock(), "Bo", ("bar",))
    tablet.sign_in(1)
    tablet.sign_in(other)
    assert "Bo" in tablet.get("/staff/").get_data(as_text=True)
    tablet.post("/staff/step-in", page="/staff/sign-in", person=1)
    assert ">Ana</a>" in tablet.get("/staff/").get_data(as_text=True)


@pytest.fixture
def manager(tablet: Screen, sqlite_store: Store, site: Site, now: datetime) -> Screen:
    """A tablet with a manager signed in."""
    tablet.sign_in(hire(sqlite_store, site, now, "Boss", ("manager",)))
    return tablet


def test_a_manager_makes_a_code_that_enrols_another_device(manager: Screen, app: Flask) -> None:
    page = manager.post("/staff/devices", name="door", kind="tablet", room="main").get_data(as_text=True)
    code = re.search(r"one-time-code\">([A-Z0-9-]+)<", page)
    assert code is not None
    other = Screen(app)
    assert other.post("/staff/enrol", code=code[1]).status_code == 302
    assert other.get("/staff/sign-in").status_code == 200
    assert code[1] not in manager.get("/staff/devices").get_data(as_text=True)


def test_a_manager_shuts_a_device_out(
    manager: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    lost = Screen(app)
    lost.enrol(sqlite_store, site, now, name="lost")
    with sqlite_store.read() as session:
        seen = next(one for one in list_devices(session) if one.name == "lost")
    manager.post(f"/staff/devices/{seen.id}/revoke", page="/staff/devices", revision=seen.revision)
    assert lost.get("/staff/sign-in").status_code == 404


def test_a_device_name_that_is_taken_is_told_at_its_field(manager: Screen) -> None:
    answer = manager.post("/staff/devices", name="tablet", kind="kiosk")
    assert answer.status_code == 422
    page = answer.get_data(as_text=True)
    assert 'id="e-name"' in page
    assert 'value="tablet"' in page
    assert '<option value="kiosk" selected>' in page


def test_a_manager_adds_somebody_who_can_sign_in(manager: Screen) -> None:
    fields = {"name": "Dora", "pin": "731946", "role": ["guide", "bar"], "language": ["es"]}
    assert manager.post("/staff/people", **fields).status_code == 302
    assert "Dora" in manager.get("/staff/people").get_data(as_text=True)
    assert manager.sign_in(3, "731946").status_code == 302


def test_somebody_without_a_role_is_not_added(manager: Screen) -> None:
    answer = manager.post("/staff/people", name="Dora", pin="731946", language="es")
    assert answer.status_code == 422
    assert 'role="alert"' in answer.get_data(as_text=True)


def test_a_pin_is_hashed_before_the_write_begins(app, manager, sqlite_store, monkeypatch):
    """It is slow on purpose; whoever pours must not wait for it."""
    open_writes = []

    def slowly(*given):
        open_writes.append(sqlite_store.engine.pool.checkedout())
        return "x"

    monkeypatch.setattr("kiosk.staff.views.hash_pin", slowly)
    fields = {"name": "Dora", "pin": "731946", "role": "bar", "language": "es"}
    assert manager.post("/staff/people", **fields).status_code == 302
    assert open_writes == [0]


def test_a_manager_changes_roles_on_the_spot(
    manager: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    celia = hire(sqlite_store, site, now, "Celia", ("bar",))
    assert manager.post(f"/staff/people/{celia}", act="roles", role=["guide", "trainee"]).status_code == 303
    with sqlite_store.read() as session:
        (found,) = [one for one in members(session, site, now) if one.id == celia]
    assert found.roles == ("guide", "trainee")
    assert 'value="guide" checked' in manager.get(f"/staff/people/{celia}").get_data(as_text=True)
    assert manager.post(f"/staff/people/{celia}", act="roles").status_code == 422


def test_who_leaves_is_signed_out_everywhere_and_signs_in_no_more(
    manager: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    celia, other = hire(sqlite_store, site, now, "Celia", ("bar",)), Screen(app)
    other.enrol(sqlite_store, site, now, name="bar")
    other.sign_in(celia)
    assert manager.post(f"/staff/people/{celia}", act="leave").status_code == 303
    assert other.get("/staff/people").headers["Location"].startswith("/staff/sign-in")
    assert other.sign_in(celia).status_code == 403
    assert manager.get(f"/staff/people/{celia}").status_code == 404


def test_a_manager_lifts_the_wait_after_wrong_pins(
    manager: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    celia, other = hire(sqlite_store, site, now, "Celia", ("bar",)), Screen(app)
    other.enrol(sqlite_store, site, now, name="bar")
    assert other.sign_in(celia, "999998").status_code == 403
    assert other.sign_in(celia).status_code == 429
    assert manager.post(f"/staff/people/{celia}", act="lift").status_code == 303
    assert other.sign_in(celia).status_code == 302


@pytest.mark.parametrize(("revision", "status"), [({}, 409), ({"revision": 1}, 409), ({"revision": 2}, 302)])
def test_a_device_is_revoked_as_it_was_looked_at(
    manager: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime, revision, status: int
) -> None:
    lost = Screen(app)
    lost.enrol(sqlite_store, site, now, name="lost")
    with sqlite_store.read() as session:
        seen = next(one for one in list_devices(session) if one.name == "lost")
    assert seen.revision == 2  # made with its code, then enrolled
    answer = manager.post(f"/staff/devices/{seen.id}/revoke", page="/staff/devices", **revision)
    assert answer.status_code == status


def test_what_a_manager_does_is_kept_with_who_did_it(
    manager: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    celia = hire(sqlite_store, site, now, "Celia", ("bar",))
    manager.post("/staff/people", name="Dora", pin="731946", role="guide", language="es")
    manager.post(f"/staff/people/{celia}", act="roles", role="trainee")
    manager.post("/staff/devices", name="door", kind="tablet", room="main")
    manager.post("/staff/devices", name="door", kind="wall", room="main")
    with sqlite_store.read() as session:
        h = history.c
        last = session.execute(select(h.by).order_by(h.id.desc()).limit(3)).scalars().all()
    assert last == [manager.person] * 3


def test_a_person_who_is_not_there_has_no_page(manager: Screen) -> None:
    assert manager.get("/staff/people/999").status_code == 404
    assert manager.post("/staff/people/999", page="/staff/people", act="leave").status_code == 404


def test_a_new_code_is_of_the_kind_and_room_that_were_chosen(manager: Screen, sqlite_store: Store) -> None:
    assert manager.post("/staff/devices", name="hall", kind="wall", room="main").status_code == 200
    with sqlite_store.read() as session:
        hall = next(one for one in list_devices(session) if one.name == "hall")
    assert (hall.kind, hall.room, hall.state) == ("wall", "main", "waiting")


def test_a_device_stays_enrolled_as_long_as_browsers_keep_a_cookie(
    screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    hire(sqlite_store, site, now)
    answer = screen.post("/staff/enrol", code=code_for(sqlite_store, site, now))
    (cookie,) = (one for one in answer.headers.getlist("Set-Cookie") if one.startswith("kiosk_device_"))
    assert f"Max-Age={400 * 24 * 3600};" in cookie


def test_neither_signing_out_nor_enrolling_leaves_the_cookie_of_a_person(
    tablet: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    tablet.sign_in(1)
    assert tablet.cookie("kiosk_person") is not None
    assert tablet.post("/staff/sign-out", page="/staff/").headers["Location"] == "/staff/sign-in"
    assert tablet.cookie("kiosk_person") is None
    tablet.client.set_cookie(tablet.cookie_name("kiosk_person"), "former")
    tablet.client.delete_cookie(tablet.cookie_name("kiosk_device"))
    tablet.post("/staff/enrol", code=code_for(sqlite_store, site, now))
    assert tablet.cookie("kiosk_person") is None


def test_a_step_in_that_has_ended_asks_for_the_pin(tablet: Screen, clock: Clock) -> None:
    tablet.sign_in(1)
    clock.pass_s(3601)
    answer = tablet.post("/staff/step-in", page="/staff/sign-in", person=1)
    assert answer.headers["Location"] == "/staff/sign-in"


def test_a_device_that_is_no_tablet_goes_to_its_own_first_page(
    screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    hire(sqlite_store, site, now)
    wall = code_for(sqlite_store, site, now, kind="wall")
    assert screen.post("/staff/enrol", code=wall).headers["Location"] == "/staff/wall"


def test_a_device_that_waits_is_not_revoked_without_its_revision(
    manager: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    code_for(sqlite_store, site, now, name="waits")
    with sqlite_store.read() as session:
        waits = next(one for one in list_devices(session) if one.name == "waits")
    assert (waits.revision, waits.state) == (1, "waiting")
    assert manager.post(f"/staff/devices/{waits.id}/revoke", page="/staff/devices").status_code == 404
    with sqlite_store.read() as session:
        assert next(one for one in list_devices(session) if one.name == "waits") == waits
