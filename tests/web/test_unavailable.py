"""Records that cannot be used now: a clear 503 in the reader's language, never a broken page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import make_url

from kiosk.app import create_app
from kiosk.site.settings import Site
from kiosk.store.engine import Store, open_store
from kiosk.store.sqlite import driver
from kiosk.web.access import DEVICE_COOKIE
from tests.actors import Clock, Screen, hire

SAID = {"en": "The records are busy with another task", "es": "Los registros están ocupados"}


@pytest.fixture
def nora(app: Flask, tablet: Screen, site: Site, sqlite_store: Store, now: datetime) -> Screen:
    """A tablet on which Nora is signed in, at a database that hardly waits for others."""
    tablet.sign_in(hire(sqlite_store, site, now, "Nora", ("bar",)))
    with sqlite_store.read() as session:
        session.connection().exec_driver_sql("PRAGMA busy_timeout = 20")
    return tablet


@contextmanager
def writing_elsewhere(url: str) -> Iterator[None]:
    """Hold the database as another process does that writes in it."""
    with closing(driver().module.connect(make_url(url).database)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_form_that_cannot_be_recorded_now_is_told_so_on_a_page(
    nora: Screen, sqlite_database_url: str, language: str
) -> None:
    nora.get(f"/language/{language}")
    token = nora.token("/staff/sign-in")
    with writing_elsewhere(sqlite_database_url):
        answer = nora.client.post("/staff/sign-out", data={"form_token": token})
    assert answer.status_code == 503
    assert SAID[language] in answer.get_data(as_text=True)
    assert nora.client.post("/staff/sign-out", data={"form_token": token}).status_code == 302


def test_a_page_is_not_withheld_because_its_being_seen_cannot_be_written(
    nora: Screen, sqlite_database_url: str, clock: Clock
) -> None:
    clock.pass_s(120)
    with writing_elsewhere(sqlite_database_url):
        assert nora.get("/staff/").status_code == 200


def test_the_page_that_says_so_asks_the_records_nothing(site: Site, clock: Clock, tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path}/gone/kiosk.sqlite")
    screen = Screen(create_app(site, store, clock, features=("web", "staff")))
    screen.client.set_cookie(DEVICE_COOKIE, "any")
    answer = screen.get("/staff/sign-in", headers={"Accept-Language": "es"})
    assert answer.status_code == 503
    assert 'lang="es"' in answer.get_data(as_text=True)
    assert screen.get("/staff/sign-in", headers={"Accept": "application/json"}).json["error"] == "unwritable"
