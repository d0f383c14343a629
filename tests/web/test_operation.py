"""Machines learn whether a site is well, search engines what to leave alone, and the log names no person."""

from __future__ import annotations

import logging
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from flask import Flask

from kiosk.site.settings import Site
from kiosk.stops.guest_link import guest_token
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import downgrade
from kiosk.web import operation
from tests.actors import Clock, Screen, running, small_site


class Disk(NamedTuple):
    """What is left of a disk."""

    free: int


@pytest.fixture(autouse=True)
def roomy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the disk have room, whatever the computer that runs the tests has."""
    monkeypatch.setattr(operation.shutil, "disk_usage", lambda _folder: Disk(10**9))


def test_a_site_that_is_well_says_so_to_anyone(store: Store, tmp_path: Path, clock: Clock) -> None:
    answer = running(small_site(tmp_path), store, clock).test_client().get("/health")
    assert answer.status_code == 200
    assert answer.get_json() == {"status": "ok", "database": True, "tables": True, "disk": True}
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Set-Cookie" not in answer.headers


def test_a_full_disk_is_not_well(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(operation.shutil, "disk_usage", lambda _folder: Disk(10**6))
    answer = app.test_client().get("/health")
    assert answer.status_code == 503
    assert answer.get_json() == {"status": "unavailable", "database": True, "tables": True, "disk": False}


def test_the_tables_of_another_release_are_not_well(database_url: str, tmp_path: Path, clock: Clock) -> None:
    downgrade(database_url, "0014")
    store = open_store(database_url)
    answer = running(small_site(tmp_path), store, clock).test_client().get("/health")
    store.close()
    assert answer.status_code == 503
    assert answer.get_json()["tables"] is False
    assert answer.get_json()["database"] is True


def test_a_database_that_does_not_answer_is_not_well(app: Flask, tmp_path: Path, sqlite_store: Store) -> None:
    sqlite_store.close()
    shutil.move(tmp_path / "kiosk.sqlite", tmp_path / "elsewhere")
    (tmp_path / "kiosk.sqlite").mkdir()
    answer = app.test_client().get("/health")
    assert answer.status_code == 503
    assert answer.get_json() == {"status": "unavailable", "database": False, "tables": False, "disk": True}


def test_asking_for_health_is_no_page_that_a_person_opened(tablet: Screen, clock: Clock) -> None:
    tablet.sign_in(1)
    for _ in range(13):  # beyond the idle limit, in steps below it
        clock.pass_s(600)
        assert tablet.get("/health").status_code == 200
    assert tablet.get("/staff/").status_code == 302


def test_search_engines_are_asked_to_leave_staff_and_guests_own_pages_alone(app: Flask) -> None:
    answer = app.test_client().get("/robots.txt")
    assert answer.mimetype == "text/plain"
    assert answer.get_data(as_text=True).splitlines() == [
        "User-agent: *",
        "Disallow: /staff/",
        "Disallow: /g/",
    ]


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    """The file of the access log, closed again afterwards."""
    file = tmp_path / "access.log"
    operation.log_access(str(file))
    yield file
    for handler in list(operation.access_log.handlers):
        operation.access_log.removeHandler(handler)
        handler.close()
    operation.access_log.setLevel(logging.NOTSET)


LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ [A-Z]+ /\S* \d{3} \d+ ms (\d+|-)")


def test_a_request_is_one_line_without_personal_data(
    log: Path, sqlite_store: Store, site: Site, clock: Clock
) -> None:
    token = guest_token(site.secret, 1, 0)
    client = running(site, sqlite_store, clock).test_client()
    client.set_cookie("kiosk_device", "cookie-of-a-device")
    addresses = [
        f"/g/{token}",
        f"/en/g/{token}/",
        f"/{token}",
        "/en/?name=Perpetua",
        "/staff/sign-in?x=Perpetua",
    ]
    for address in addresses:
        client.get(address, environ_base={"REMOTE_ADDR": "203.0.113.9"})
    client.post("/staff/enrol", data={"code": "ABCD-EFGH", "name": "Perpetua"})
    written = log.read_text(encoding="utf-8")
    lines = written.splitlines()
    assert len(lines) == len(addresses) + 1
    assert all(LINE.fullmatch(line) for line in lines), lines
    for secret in (token, "Perpetua", "203.0.113.9", "cookie-of-a-device", "ABCD-EFGH", "?"):
        assert secret not in written
    assert [line.split()[2] for line in lines] == [
        "/g/-",
        "/en/g/-/",
        "/-",
        "/en/",
        "/staff/sign-in",
        "/staff/enrol",
    ]
    assert {line.split()[1] for line in lines} == {"GET", "POST"}


def test_no_address_writes_a_second_line(log: Path, app: Flask) -> None:
    app.test_client().get("/en/%0a2026-01-01T00:00:00Z%20GET%20/forged%20200")
    (line,) = log.read_text(encoding="utf-8").splitlines()
    assert LINE.fullmatch(line)


def test_size_and_status_are_those_of_the_answer(log: Path, app: Flask) -> None:
    answer = app.test_client().get("/robots.txt")
    parts = log.read_text(encoding="utf-8").split()
    assert parts[2:4] == ["/robots.txt", "200"]
    assert int(parts[-1]) == len(answer.data)


def test_an_answer_that_failed_is_logged_as_one(log: Path, app: Flask) -> None:
    @app.get("/broken")
    @operation.open_to("anyone")
    def broken() -> str:
        raise LookupError("a fault of ours")

    with pytest.raises(LookupError):
        app.test_client().get("/broken")
    assert " /broken 500 " in log.read_text(encoding="utf-8")


@pytest.mark.parametrize("setting", [None, "off"])
def test_a_log_that_is_off_writes_no_file(setting: str | None, tmp_path: Path, app: Flask) -> None:
    operation.log_access(setting)
    assert not operation.access_log.isEnabledFor(logging.INFO)
    app.test_client().get("/robots.txt")
    assert not (tmp_path / "off").exists()


def test_without_a_log_nothing_is_written(app: Flask, caplog: pytest.LogCaptureFixture) -> None:
    app.test_client().get("/robots.txt")
    assert caplog.records == []
