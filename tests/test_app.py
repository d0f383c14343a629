"""The whole application on the demo's site: every address, and who may open it."""

from __future__ import annotations

import re
import shutil
from datetime import datetime

import pytest
from flask import Blueprint, Flask
from werkzeug.exceptions import HTTPException

from kiosk.app import FEATURES, Feature, create_app, figure_names
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.staff.devices import revoke
from kiosk.staff.people import ROLES
from kiosk.store.engine import Store
from kiosk.web import access
from kiosk.web.access import NotDeclared
from tests.actors import Clock, Screen, hire, running

EVERYONE = {"anyone"}
TEAM = set(ROLES)
POURERS = {"guide", "bar", "manager"}
CLOSERS = {"bar", "manager"}
PRINTERS = {"guide", "bar", "production", "manager"}
WRITERS = {"production", "manager"}
RUN_READERS = {*WRITERS, "guide"}
DEVICES = {"device"}
STRANGERS = {"device", "stranger"}
WALLS = {"device", "wall"}
MANAGER = {"manager"}
PLANNERS = {"guide", "manager"}

# Every address of the house and who may open it. A new view fails here until somebody
# has said twice, in the view and in this table, whom it is for.
ADDRESSES = {
    ("GET", "/"): EVERYONE,
    ("GET", "/<lang>/"): EVERYONE,
    ("GET", "/<lang>/bottles/<lot>"): EVERYONE,
    ("GET", "/<lang>/bottles/<lot>/picture.pdf"): EVERYONE,
    ("GET", "/<lang>/glossary"): EVERYONE,
    ("GET", "/<lang>/prices"): EVERYONE,
    ("GET", "/<lang>/products"): EVERYONE,
    ("GET", "/<lang>/products/<product_id>"): EVERYONE,
    ("GET", "/<lang>/stops/<slug>"): EVERYONE,
    ("GET", "/b/<lot>"): EVERYONE,
    ("GET", "/g/<token>"): EVERYONE,
    ("GET", "/health"): EVERYONE,
    ("GET", "/language/<code>"): EVERYONE,
    ("GET", "/look/<name>"): EVERYONE,
    ("GET", "/robots.txt"): EVERYONE,
    ("GET", "/s/<slug>"): EVERYONE,
    ("GET", "/house/<digest>.webp"): EVERYONE,
    ("GET", "/site.css"): EVERYONE,
    ("GET", "/static/<path:filename>"): EVERYONE,
    ("GET", "/staff/"): TEAM,
    ("GET", "/staff/bottles"): POURERS,
    ("POST", "/staff/bottles"): POURERS,
    ("GET", "/staff/bottles/<int:bottle_id>"): POURERS,
    ("GET", "/staff/bottles/open"): POURERS,
    ("POST", "/staff/bottles/<int:bottle_id>"): POURERS,
    ("POST", "/staff/bottles/held/<int:held_id>"): MANAGER,
    ("POST", "/staff/bottles/measures"): POURERS,
    ("POST", "/staff/bottles/stock"): POURERS,
    ("GET", "/staff/bottles-behind/<lot>"): TEAM,
    ("GET", "/staff/cards"): PRINTERS,
    ("GET", "/staff/cards/<slug>.pdf"): PRINTERS,
    ("GET", "/staff/closing"): CLOSERS,
    ("POST", "/staff/closing"): CLOSERS,
    ("GET", "/staff/closing.csv"): CLOSERS,
    ("GET", "/staff/closing.pdf"): CLOSERS,
    ("GET", "/staff/personal-data"): MANAGER,
    ("POST", "/staff/personal-data"): MANAGER,
    ("GET", "/staff/personal-data/<int:booking_id>"): MANAGER,
    ("POST", "/staff/personal-data/<int:booking_id>/erase"): MANAGER,
    ("GET", "/staff/inspection"): MANAGER,
    ("POST", "/staff/inspection"): MANAGER,
    ("GET", "/staff/devices"): MANAGER,
    ("POST", "/staff/devices"): MANAGER,
    ("POST", "/staff/devices/<int:device_id>/revoke"): MANAGER,
    ("GET", "/staff/enrol"): STRANGERS,
    ("POST", "/staff/enrol"): STRANGERS,
    ("GET", "/staff/flights"): POURERS,
    ("GET", "/staff/flights/<int:flight_id>"): POURERS,
    ("POST", "/staff/flights/<int:flight_id>"): CLOSERS,
    ("POST", "/staff/flights/<int:flight_id>/archive"): CLOSERS,
    ("POST", "/staff/flights/<int:flight_id>/tours/<int:tour_id>"): CLOSERS,
    ("GET", "/staff/flights/new"): CLOSERS,
    ("POST", "/staff/flights/new"): CLOSERS,
    ("GET", "/staff/held"): WRITERS,
    ("POST", "/staff/held/<int:held_id>"): MANAGER,
    ("GET", "/staff/held/type-in"): MANAGER,
    ("POST", "/staff/held/type-in"): MANAGER,
    ("POST", "/staff/intake"): {"sender"},  # found by the view: see below
    ("GET", "/staff/manual"): TEAM,
    ("GET", "/staff/manual/parts"): TEAM,
    ("GET", "/staff/manual/<page>"): TEAM,
    ("GET", "/staff/manual/laws/<law>"): TEAM,
    ("GET", "/staff/permits"): MANAGER,
    ("POST", "/staff/permits"): MANAGER,
    ("POST", "/staff/permits/<int:permit_id>/take-back"): MANAGER,
    ("POST", "/staff/permits/age"): MANAGER,
    ("GET", "/staff/people"): MANAGER,
    ("POST", "/staff/people"): MANAGER,
    ("GET", "/staff/people/<int:person_id>"): MANAGER,
    ("POST", "/staff/people/<int:person_id>"): MANAGER,
    ("POST", "/staff/people/<int:person_id>/pin"): MANAGER,
    ("GET", "/staff/pin"): TEAM,
    ("POST", "/staff/pin"): TEAM,
    ("POST", "/staff/readings"): {"instrument"},
    ("GET", "/staff/readings/instruments"): MANAGER,
    ("POST", "/staff/readings/instruments"): MANAGER,
    ("GET", "/staff/readings/openapi.json"): STRANGERS,
    ("GET", "/staff/records/"): WRITERS,
    ("GET", "/staff/runs/"): RUN_READERS,
    ("GET", "/staff/runs/<int:run_id>"): RUN_READERS,
    ("GET", "/staff/runs/<int:run_id>/picture.pdf"): RUN_READERS,
    ("GET", "/staff/records/<table>/<int:row_id>"): WRITERS,
    ("POST", "/staff/records/<table>/<int:row_id>"): WRITERS,
    ("GET", "/staff/records/<table>/<int:row_id>/void"): WRITERS,
    ("POST", "/staff/records/<table>/<int:row_id>/void"): WRITERS,
    ("GET", "/staff/records/held"): WRITERS,
    ("POST", "/staff/records/held/<int:held_id>"): WRITERS,
    ("GET", "/staff/records/names"): WRITERS,
    ("POST", "/staff/records/names"): WRITERS,
    ("GET", "/staff/records/import"): WRITERS,
    ("POST", "/staff/records/import"): WRITERS,
    ("POST", "/staff/records/import/<mark>"): WRITERS,
    ("GET", "/staff/records/instruments"): WRITERS,
    ("POST", "/staff/records/instruments"): WRITERS,
    ("GET", "/staff/records/instruments/<int:instrument_id>"): WRITERS,
    ("POST", "/staff/records/instruments/<int:instrument_id>"): WRITERS,
    ("GET", "/staff/records/new/<name>"): WRITERS,
    ("POST", "/staff/records/new/<name>"): WRITERS,
    ("GET", "/staff/approvals"): POURERS,
    ("GET", "/staff/approvals/new"): MANAGER,
    ("POST", "/staff/approvals/new"): MANAGER,
    ("GET", "/staff/releases"): POURERS,
    ("GET", "/staff/releases/new"): MANAGER,
    ("POST", "/staff/approvals/<int:approval_id>/end"): MANAGER,
    ("GET", "/staff/rules"): POURERS,
    ("POST", "/staff/rules"): MANAGER,
    ("POST", "/staff/rules/today"): MANAGER,
    ("GET", "/staff/sign-in"): DEVICES,
    ("POST", "/staff/sign-in"): DEVICES,
    ("POST", "/staff/sign-out"): DEVICES,
    ("POST", "/staff/step-in"): DEVICES,
    ("GET", "/staff/stops"): TEAM,
    ("GET", "/staff/stops/<slug>"): TEAM,
    ("GET", "/staff/stops/<slug>/pictures.pdf"): TEAM,
    ("GET", "/staff/stops/<slug>/plate.pdf"): TEAM,
    ("GET", "/staff/tours/<int:tour_id>"): POURERS | {"trainee"},
    ("GET", "/staff/guests/<int:guest_id>/own-page"): POURERS,
    ("GET", "/staff/week"): TEAM,
    ("GET", "/staff/days/<day>"): PLANNERS,
    ("POST", "/staff/days/<day>"): PLANNERS,
    ("GET", "/staff/tours/pattern"): PLANNERS,
    ("POST", "/staff/tours/pattern"): PLANNERS,
    ("GET", "/calendar/<int:staff_id>/<mac>.ics"): EVERYONE,
    ("GET", "/staff/feed"): TEAM,
    ("POST", "/staff/feed"): TEAM,
    ("GET", "/staff/bookings/file"): PLANNERS,
    ("POST", "/staff/bookings/file"): PLANNERS,
    ("POST", "/staff/bookings/file/record"): PLANNERS,
    ("GET", "/staff/bookings/new"): PLANNERS,
    ("POST", "/staff/bookings/new"): PLANNERS,
    ("GET", "/staff/walk-in"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/walk-in"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/split"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/split"): PLANNERS,
    ("GET", "/staff/tours/<int:tour_id>/merge"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/merge"): PLANNERS,
    ("GET", "/staff/tours/<int:tour_id>/shorten"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/shorten"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/move"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/no-show"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/bring-back"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/size"): POURERS,
    ("GET", "/staff/tours/new"): PLANNERS,
    ("POST", "/staff/tours/new"): PLANNERS,
    ("GET", "/staff/tours/<int:tour_id>/change"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/change"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/cancel"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/steps"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/walk"): POURERS | {"trainee"},
    ("GET", "/staff/tours/<int:tour_id>/walk/<part>"): POURERS | {"trainee"},
    ("POST", "/staff/tours/<int:tour_id>/walk/take-over"): PLANNERS,
    ("GET", "/staff/house"): TEAM,
    ("GET", "/staff/house/now"): TEAM,
    ("GET", "/staff/stops/<slug>/close/<reason>"): TEAM,
    ("POST", "/staff/stops/<slug>/close/<reason>"): TEAM,
    ("POST", "/staff/closures/<key>/reopen"): TEAM,
    ("GET", "/staff/tours/<int:tour_id>/bookings/new"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/new"): PLANNERS,
    ("GET", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/cancel"): PLANNERS,
    ("POST", "/staff/tours/<int:tour_id>/guests/<int:guest_id>/allergies"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/marks"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/describe"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/returning"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/take-back"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/briefed"): POURERS,
    ("GET", "/staff/setup"): POURERS,
    ("POST", "/staff/setup"): POURERS,
    ("GET", "/staff/setup.pdf"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/welcome"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/bookings/<int:booking_id>/numbers"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/mats"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/preset-glasses"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/preset-glasses/clear"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/preset-glasses/seat"): POURERS,
    ("POST", "/staff/tours/<int:tour_id>/preset-glasses/pour"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/tasting"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/tasting/state"): POURERS,
    ("GET", "/staff/tours/<int:tour_id>/tasting/<int:guest_id>/turn"): POURERS,
    ("GET", "/staff/wall"): WALLS,
    ("GET", "/staff/wall.json"): WALLS,
}
PLACES = {
    "<lang>": "en",
    "<lot>": "x",
    "<product_id>": "x",
    "<slug>": "still-house",
    "<table>": "gauges",
    "<token>": "x",
    "<code>": "en",
    "<name>": "dim",
    "<page>": "rules",
    "<law>": "kentucky",
    "<path:filename>": "css/base.css",
    "<reason>": "other",
    "<part>": "now",
    "<key>": "x",
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The demo's site as it ships, with a secret of its own."""
    folder = tmp_path_factory.mktemp("whole") / "site"
    shutil.copytree(shipped("demo_site"), folder)
    make_secret(folder)
    return load_site(folder)


@pytest.fixture
def app(site: Site, sqlite_store: Store, now: datetime) -> Flask:
    """The whole application."""
    return running(site, sqlite_store, Clock(now))


def address(rule: str) -> str:
    """Return an address that a rule matches."""
    for place, value in PLACES.items():
        rule = rule.replace(place, value)
    return "/".join("1" if part.startswith("<int:") else part for part in rule.split("/"))


def expected(who: str, open_for: set[str], method: str) -> object:
    """Say what the guard owes somebody, without asking the guard."""
    if open_for == {"sender"} and who == "no device":
        return 404  # a stranger's entries take no lock
    if open_for in (EVERYONE, {"sender"}):
        return "in"
    if open_for == {"instrument"}:
        return 401
    if who in ("no device", "revoked"):
        return "in" if "stranger" in open_for else 404
    if who in ("kiosk", "wall"):
        return "in" if who in open_for else 404
    if "device" in open_for or who in open_for:
        return "in"
    if who == "nobody signed in":
        return "to sign-in" if method == "GET" else 401
    return 403


def asked(app: Flask, cookies: str, method: str, path: str) -> object:
    """Return what the guard answers."""
    with app.test_request_context(path, method=method, headers={"Cookie": cookies}):
        try:
            answer = access.guard()
        except HTTPException as refusal:
            return refusal.code
        if answer is None:
            return "in"
        return "to sign-in" if answer.headers["Location"].startswith("/staff/sign-in") else answer


def cookies_of(screen: Screen) -> str:
    """Return the cookies that a screen holds."""
    held = [screen.cookie(name) for name in (access.DEVICE_COOKIE, access.PERSON_COOKIE)]
    return "; ".join(f"{cookie.key}={cookie.value}" for cookie in held if cookie)


def test_the_table_names_every_address_and_no_other(app: Flask) -> None:
    rules = {
        (method, rule.rule)
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    assert rules == set(ADDRESSES)


@pytest.mark.parametrize("who", ["no device", "revoked", "kiosk", "wall", "nobody signed in", *ROLES])
def test_every_address_is_open_to_those_in_the_table_and_to_nobody_else(
    app: Flask, site: Site, sqlite_store: Store, now: datetime, who: str
) -> None:
    screen = Screen(app)
    if who != "no device":
        hire(sqlite_store, site, now, "First", ("manager",))
        screen.enrol(sqlite_store, site, now, kind=who if who in ("kiosk", "wall") else "tablet")
    if who == "revoked":
        screen.sign_in(1)
        with sqlite_store.write() as session:
            revoke(session, 1, 2, now, by=None)
    if who in ROLES:
        screen.sign_in(hire(sqlite_store, site, now, "Asking", (who,)))
    cookies = cookies_of(screen)
    got = {key: asked(app, cookies, key[0], address(key[1])) for key in ADDRESSES}
    assert got == {key: expected(who, open_for, key[0]) for key, open_for in ADDRESSES.items()}


WAYS = (
    "/staff/",
    "/staff/stops",
    "/staff/house",
    "/staff/cards",
    "/staff/flights",
    "/staff/bottles",
    "/staff/approvals",
    "/staff/closing",
    "/staff/rules",
    "/staff/week",
    "/staff/bookings/new",
    "/staff/walk-in",
    "/staff/records/",
    "/staff/held",
    "/staff/inspection",
    "/staff/devices",
    "/staff/people",
    "/staff/personal-data",
    "/staff/manual",
    "/staff/pin",
)


@pytest.mark.parametrize("role", ROLES)
def test_staff_find_the_way_to_every_page_they_may_open_and_to_no_other(
    app: Flask, site: Site, sqlite_store: Store, now: datetime, role: str
) -> None:
    somebody = hire(sqlite_store, site, now, "Walking", (role,))
    screen = Screen(app)
    screen.enrol(sqlite_store, site, now)
    screen.sign_in(somebody)
    page = screen.get("/staff/stops").get_data(as_text=True)
    bar = page[page.index('<nav class="tab-bar"') :]
    ways = re.findall(r'href="([^"]+)"', bar[: bar.index("</nav>")])
    assert sorted(ways) == sorted(path for path in WAYS if role in ADDRESSES["GET", path])
    assert bar[: bar.index("<details")].count("<a ") == 4
    assert [path for path in ways if screen.get(path).status_code != 200] == []


def test_all_staff_addresses_lie_under_one_prefix() -> None:
    assert [
        rule for (_method, rule), who in ADDRESSES.items() if who != EVERYONE and "/staff/" not in rule
    ] == []


def test_a_stranger_and_a_guests_screen_hand_in_nothing(
    app: Flask, site: Site, sqlite_store: Store, now: datetime
) -> None:
    screen = Screen(app)
    for _ in range(2):
        for sent in ([{"kind": "pour"}], []):
            assert screen.client.post("/staff/intake", json=sent).status_code == 404
        screen.enrol(sqlite_store, site, now, kind="kiosk")


def test_the_app_refuses_to_start_with_a_view_that_says_nothing(
    site: Site, sqlite_store: Store, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    forgetful = Blueprint("forgetful", __name__)
    forgetful.add_url_rule("/forgotten", "forgotten", lambda: "")
    monkeypatch.setitem(FEATURES, "forgetful", Feature(forgetful))  # type: ignore[arg-type]
    with pytest.raises(NotDeclared, match=r"forgetful\.forgotten"):
        create_app(site, sqlite_store, Clock(now), ["web", "forgetful"])


def test_the_front_page_and_a_stop_answer_in_both_languages(app: Flask) -> None:
    screen = Screen(app)
    for language in ("en", "es"):
        for path in (f"/{language}/", f"/{language}/stops/still-house"):
            page = screen.get(path)
            assert page.status_code == 200
            assert f'<html lang="{language}"' in page.get_data(as_text=True)


def test_a_language_chosen_at_one_stop_is_kept_by_the_code_of_the_next(app: Flask) -> None:
    screen = Screen(app)
    screen.get("/language/es?to=/en/stops/still-house")
    answer = screen.get("/s/cask-store", headers={"Accept-Language": "en"})
    assert answer.headers["Location"].endswith("/es/stops/cask-store")


def test_figures_have_names() -> None:
    assert {"casks_filled", "guests_today", "samples_today"} <= figure_names()
