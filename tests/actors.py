"""A small site, and people with screens in front of them, all made by the real parts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from argon2 import PasswordHasher
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import Cookie, TestResponse

from kiosk.app import create_app
from kiosk.figures.drinks import ServicePolicy, StandardDrink
from kiosk.site.settings import Colours, Language, Site, Units
from kiosk.staff.devices import new_code
from kiosk.staff.people import add_person, hash_pin
from kiosk.store.engine import Store
from tests.kept import keep_between_apps

keep_between_apps()

CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""PINs at a price that tests can pay; what it guards is not what it tests."""

PIN = "402917"
ORIGIN = "http://localhost"


@dataclass
class Clock:
    """A clock that a test moves by hand."""

    at: datetime

    def __call__(self) -> datetime:
        """Return the instant that it shows."""
        return self.at

    def pass_s(self, seconds: float) -> None:
        """Let time pass."""
        self.at += timedelta(seconds=seconds)


def small_site(folder: Path, **changes: Any) -> Site:
    """Return a site of two languages without a route: enough for what every page shares."""
    values: dict[str, Any] = {
        "folder": folder,
        "key": "small-site",
        "name": "Small Site",
        "languages": (Language("en", "en_US"), Language("es", "es_PR")),
        "zone": ZoneInfo("Etc/GMT+4"),
        "currency": "USD",
        "units": Units.US,
        "standard_drink": StandardDrink("US", Fraction("17.7441"), Fraction(14), "invented for a test", None),
        "policy": ServicePolicy(guest_age=21, basis="invented for a test", year=2026),
        "day_starts": time(5),
        "measures": (),
        "rooms": ("main",),
        "public_address": "https://visit.example",
        "trusted_hosts": (),
        "staff_over_http": False,
        "retention_days": 30,
        "colours": Colours("#24512f", "#a9cf8d"),
        "route": (),
        "products": {},
        "database": "sqlite://",
        "secret": bytes(range(32)),
    }
    return Site(**{**values, **changes})


def site_files(folder: Path) -> None:
    """Write the files that every site's folder has; a site of `small_site` reads none of them."""
    for name in ("site.toml", "products.toml", "secret"):
        (folder / name).write_text("# of a small site\n", encoding="utf-8")


def running(site: Site, store: Store, clock: Clock, **more: Any) -> Flask:
    """Return the app of a site as tests want it: what fails in it fails the test."""
    made = create_app(site, store, clock, **more)
    made.testing = True
    return made


def text_of(answer: TestResponse) -> str:
    """Return the words of a page on one line, without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.get_data(as_text=True)))


@dataclass
class Screen:
    """A browser on one device. Its posts come from a page of this site unless a test says otherwise."""

    app: Flask
    client: FlaskClient = field(init=False)
    person: int = 0  # whoever signed in last

    def __post_init__(self) -> None:
        self.client = self.app.test_client()
        self.client.environ_base["HTTP_ORIGIN"] = ORIGIN

    def get(self, path: str, **more: Any) -> TestResponse:
        """Open a page."""
        return self.client.get(path, buffered=True, **more)

    def post(self, path: str, page: str | None = None, **fields: Any) -> TestResponse:
        """Send a form with the token that `page` (else the path itself) shows."""
        return self.client.post(path, data={"form_token": self.token(page or path), **fields})

    def token(self, page: str) -> str:
        """Return the form token that a page shows, or "" where it shows none."""
        found = re.search(r'name="form_token" value="([0-9a-f]+)"', self.get(page).get_data(as_text=True))
        return found[1] if found else ""

    def cookie_name(self, name: str) -> str:
        """Return the name under which a browser keeps a cookie of this screen's site."""
        return f"{name}_{self.app.extensions['kiosk'].site.key}"

    def cookie(self, name: str) -> Cookie | None:
        """Return a cookie of the site that this screen holds."""
        return self.client.get_cookie(self.cookie_name(name))

    def enrol(
        self, store: Store, site: Site, now: datetime, name: str = "tablet", kind: str = "tablet"
    ) -> None:
        """Enrol this screen with a fresh code."""
        with store.write() as session:
            code = new_code(session, site, name, kind, None, now)
        self.post("/staff/enrol", code=code)

    def sign_in(self, staff_id: int, pin: str = PIN, **fields: Any) -> TestResponse:
        """Sign somebody in."""
        self.person = staff_id
        return self.post("/staff/sign-in", person=staff_id, pin=pin, **fields)


def hire(
    store: Store, site: Site, now: datetime, name: str = "Ana", roles: tuple[str, ...] = ("guide",)
) -> int:
    """Record somebody with `PIN` and return their id."""
    with store.write() as session:
        return add_person(session, site, name, hash_pin(PIN, site, CHEAP), roles, ["en"], now)


def signed_in(app: Flask, store: Store, site: Site, now: datetime, role: str, name: str) -> Screen:
    """Return a tablet on which somebody of a role is signed in."""
    screen = Screen(app)
    somebody = hire(store, site, now, name, (role,))
    screen.enrol(store, site, now, name=f"tablet of {name}")
    screen.sign_in(somebody)
    return screen
