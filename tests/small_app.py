"""Fixtures of a small running site: what the tests of shared pages and of staff stand on."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from flask import Flask, jsonify, render_template_string, request

from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.web import forms
from kiosk.web.access import open_to
from tests.actors import Clock, Screen, hire, running, small_site

SHARED_FEATURES = ("web", "staff")
PAGE = "{% extends 'web/guest.html' %}{% block main %}{{ form_token_field() }}{% endblock %}"


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """A site of two languages without a route."""
    return small_site(tmp_path)


@pytest.fixture
def clock(now: datetime) -> Clock:
    """A clock that stands until a test moves it."""
    return Clock(now)


EACH_DATABASE = pytest.mark.parametrize("site_store", ["sqlite", "postgresql"], indirect=True)
"""Runs tests of the small site on each kind of database; the others run on SQLite alone."""


@pytest.fixture
def site_store(request: pytest.FixtureRequest) -> Store:
    """The open store of the small site."""
    store: Store = request.getfixturevalue(f"{getattr(request, 'param', 'sqlite')}_store")
    return store


@pytest.fixture
def app(site: Site, site_store: Store, clock: Clock) -> Flask:
    """The pages shared by all features, the staff's, and a guests' page to try them on."""
    made = running(site, site_store, clock, features=SHARED_FEATURES)

    @made.get("/<lang>/")
    @open_to("anyone")
    def front(lang: str) -> str:
        return render_template_string(PAGE)

    @made.post("/note")
    @open_to("anyone")
    def note() -> str:
        return forms.text("note")

    @made.post("/staff/taps")
    @open_to("device")
    def taps() -> object:
        return jsonify(request.get_json())

    @made.get("/staff/")
    @open_to("guide", "bar", "trainee", "production", "manager")
    def day() -> str:
        return render_template_string("{% extends 'web/staff.html' %}")

    return made


@pytest.fixture
def screen(app: Flask) -> Screen:
    """A browser that nobody enrolled."""
    return Screen(app)


@pytest.fixture
def tablet(screen: Screen, site_store: Store, site: Site, now: datetime) -> Screen:
    """An enrolled tablet of a house where Ana, a guide, works; nobody is signed in."""
    hire(site_store, site, now)
    screen.enrol(site_store, site, now)
    return screen
