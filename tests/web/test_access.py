"""Who gets in: the guard, device by device and role by role."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from flask import Flask
from sqlalchemy import select

from kiosk.site.settings import Site
from kiosk.staff.people import ROLES
from kiosk.staff.sessions import IDLE, SHIFT
from kiosk.store.engine import Store
from kiosk.store.tables.staff import sessions
from kiosk.web.access import NotDeclared, open_to, require_declarations
from tests.actors import Clock, Screen, hire, running, signed_in
from tests.small_app import SHARED_FEATURES


def test_a_view_that_does_not_say_who_may_open_it_stops_the_start() -> None:
    app = Flask("bare", static_folder=None)
    app.add_url_rule("/open", "open", open_to("anyone")(lambda: ""))
    require_declarations(app)
    app.add_url_rule("/silent", "silent", lambda: "")
    with pytest.raises(NotDeclared, match="silent"):
        require_declarations(app)


@pytest.mark.parametrize("who", [(), ("owner",), ("guide", "everyone")])
def test_a_declaration_takes_known_names_only(who: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="open_to"):
        open_to(*who)


# (who asks, path): what they get. "in" is a page, "sign in" the way to the sign-in page.
CASES = {
    ("stranger", "/en/"): 200,
    ("stranger", "/staff/"): 404,
    ("stranger", "/staff/sign-in"): 404,
    ("stranger", "/staff/devices"): 404,
    ("stranger", "/staff/enrol"): 200,
    ("kiosk", "/en/"): 200,
    ("kiosk", "/staff/"): 404,
    ("kiosk", "/staff/sign-in"): 404,
    ("kiosk", "/staff/devices"): 404,
    ("kiosk", "/staff/enrol"): 404,
    ("tablet", "/en/"): 200,
    ("tablet", "/staff/"): "sign in",
    ("tablet", "/staff/sign-in"): 200,
    ("tablet", "/staff/devices"): "sign in",
    ("tablet", "/staff/enrol"): 200,
    **{(role, "/staff/"): 200 for role in ROLES},
    **{(role, "/staff/sign-in"): 200 for role in ROLES},
    **{
        (role, path): 200 if role == "manager" else 403
        for role in ROLES
        for path in ("/staff/devices", "/staff/people")
    },
}


@pytest.mark.parametrize(("who", "path"), CASES)
def test_each_role_gets_what_is_open_to_it(
    who: str, path: str, screen: Screen, sqlite_store: Store, site: Site, now: datetime
) -> None:
    if who != "stranger":
        hire(sqlite_store, site, now, "First", ("manager",))
        screen.enrol(sqlite_store, site, now, kind="kiosk" if who == "kiosk" else "tablet")
    if who in ROLES:
        assert screen.sign_in(hire(sqlite_store, site, now, "Asking", (who,))).status_code == 302
    answer = screen.get(path)
    went_to_sign_in = answer.status_code == 302 and answer.headers["Location"].startswith("/staff/sign-in")
    assert ("sign in" if went_to_sign_in else answer.status_code) == CASES[who, path]


def test_nobody_signed_in_is_told_so_in_json(tablet: Screen) -> None:
    answer = tablet.client.post("/staff/devices", json={})
    assert answer.status_code == 401
    assert answer.get_json()["error"] == "unauthorized"


def test_a_device_may_send_taps_with_nobody_signed_in(tablet: Screen) -> None:
    assert tablet.client.post("/staff/taps", json=[1]).get_json() == [1]


def test_a_stranger_may_not_send_taps(screen: Screen) -> None:
    assert screen.client.post("/staff/taps", json=[1]).status_code == 404


def test_a_sign_in_ends_after_idling(tablet: Screen, clock: Clock) -> None:
    tablet.sign_in(1)
    clock.pass_s(IDLE.total_seconds() - 1)
    assert tablet.get("/staff/").status_code == 200
    clock.pass_s(IDLE.total_seconds() - 1)
    assert tablet.get("/staff/").status_code == 200  # the page before pushed it back
    clock.pass_s(IDLE.total_seconds() + 1)
    assert tablet.get("/staff/").status_code == 302


def test_a_sign_in_ends_with_the_shift_however_busy(tablet: Screen, clock: Clock) -> None:
    tablet.sign_in(1)
    for _ in range(int(SHIFT / timedelta(minutes=30)) - 1):
        clock.pass_s(1800)
        assert tablet.get("/staff/").status_code == 200
    clock.pass_s(1800)
    assert tablet.get("/staff/").status_code == 302


def test_a_token_is_worth_nothing_on_another_device(
    tablet: Screen, app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    tablet.sign_in(1)
    taken = tablet.cookie("kiosk_person")
    assert taken is not None
    other = Screen(app)
    other.enrol(sqlite_store, site, now, name="other")
    other.client.set_cookie(other.cookie_name("kiosk_person"), taken.value)
    assert other.get("/staff/").status_code == 302


@pytest.mark.parametrize(("path", "pushed_back"), [("/staff/polled.json", False), ("/staff/page", True)])
def test_what_a_wall_polls_does_not_keep_a_sign_in_alive(
    site: Site, sqlite_store: Store, clock: Clock, now: datetime, path: str, pushed_back: bool
) -> None:
    app = running(site, sqlite_store, clock, features=SHARED_FEATURES)
    app.add_url_rule(path, "view", open_to("guide")(lambda: "here"))
    screen = signed_in(app, sqlite_store, site, now, "guide", "Ana")
    clock.pass_s(IDLE.total_seconds() - 1)
    assert screen.get(path).text == "here"
    with sqlite_store.read() as session:
        seen_at = session.scalar(select(sessions.c.seen_at))
    assert seen_at == (clock.at if pushed_back else now)
