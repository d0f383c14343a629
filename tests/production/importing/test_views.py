"""Files sent by a browser without scripts: looked at, then recorded, never by half."""

from __future__ import annotations

import io
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import func, select
from werkzeug.test import TestResponse

from kiosk.production.importing import views
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.actors import Clock, Screen, hire, running, signed_in
from tests.production.folder import FILES

PAGE = "/staff/records/import"
CASKS = {"casks.csv": FILES["casks.csv"]}


@pytest.fixture
def app(site: Site, sqlite_store: Store, now: datetime) -> Flask:
    """The house without a record."""
    return running(site, sqlite_store, Clock(now), features=("web", "staff", "entries", "production"))


@pytest.fixture
def screen(app: Flask, sqlite_store: Store, site: Site, now: datetime) -> Screen:
    """The tablet of somebody who writes records."""
    hire(sqlite_store, site, now, "First", ("manager",))
    return signed_in(app, sqlite_store, site, now, "production", "Ana")


def send(screen: Screen, files: dict[str, str]) -> TestResponse:
    """Send files from the page."""
    sent = [(io.BytesIO(text.encode()), name) for name, text in files.items()]
    return screen.post(PAGE, files=sent)


def confirm(screen: Screen, looked: TestResponse) -> TestResponse:
    """Say yes on the page that shows what files would do."""
    found = re.search(
        r'action="(/staff/records/import/[^"]+)".*?name="shown" value="([0-9a-f]+)"', looked.text, re.DOTALL
    )
    assert found, looked.text
    return screen.post(found[1], page=PAGE, shown=found[2])


def casks(store: Store) -> int:
    """Count the casks."""
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(t.casks)) or 0


def uploads(site: Site) -> list[Path]:
    """Return what is kept of files that were sent."""
    return list((site.folder / views.UPLOADS).glob("*"))


def test_files_are_looked_at_first_and_recorded_after_a_yes(
    screen: Screen, sqlite_store: Store, site: Site
) -> None:
    looked = send(screen, FILES)
    assert looked.status_code == 200
    assert "casks.csv</code></dt><dd>2 new</dd>" in looked.text
    assert casks(sqlite_store) == 0
    done = confirm(screen, looked)
    assert (done.status_code, casks(sqlite_store)) == (302, 2)
    with sqlite_store.read() as session:
        assert session.scalar(select(t.imports.c.by)) is not None
    assert uploads(site) == []
    again = send(screen, FILES)
    assert "These files say nothing new" in again.text
    assert 'name="shown"' not in again.text


def test_what_is_wrong_is_listed_and_offers_no_yes(screen: Screen, sqlite_store: Store) -> None:
    looked = send(screen, {**CASKS, "barrels.csv": "code\n", "vessels.csv": "code,kind\nT1,bucket\n"})
    assert looked.status_code == 422
    assert "barrels.csv is not a file of records" in looked.text
    assert "vessels.csv, row 1: the column capacity_l is missing" in looked.text
    assert re.search(r"vessels.csv</code></dt><dd>1 wrong</dd>", looked.text)
    assert 'name="shown"' not in looked.text


def test_the_second_of_two_files_of_one_name_is_not_lost_in_silence(screen: Screen) -> None:
    sent = [(io.BytesIO(text), "stores.csv") for text in (b"code,name\nA,a\n", b"code,name\nB,b\n")]
    looked = screen.post(PAGE, files=sent)
    assert looked.status_code == 422
    assert "2/stores.csv is not a file of records" in looked.text


def test_what_waits_is_listed_and_waits_after_the_yes(screen: Screen) -> None:
    later = FILES["loads.csv"].replace("06-01", "07-01")
    looked = send(screen, {"fields.csv": FILES["fields.csv"], "loads.csv": later})
    assert "loads.csv, row 2: 2026-07-01" in looked.text
    assert confirm(screen, looked).status_code == 302
    page = screen.get("/staff/held").text
    assert "loads.csv, row 2" in page
    way = re.search(r'href="(/staff/records/new/row-loads\?held=\d+)"', page)
    assert way
    form = screen.get(way[1])
    assert 'value="2026-07-01"' in form.text
    right = {
        "code": "L-1",
        "cut_on": "2026-06-01",
        "milled_at": "2026-06-01T08:00",
        "cane_kg": "6613.868",
    }  # pounds: 3 000 kg
    sent = screen.post(way[1], revision="1", juice_l="449.0925", brix="16", **right)
    assert sent.status_code == 302
    assert "loads.csv" not in screen.get("/staff/held").text


def test_a_yes_to_what_has_changed_since_shows_it_anew(screen: Screen, sqlite_store: Store) -> None:
    looked = send(screen, CASKS)
    confirm(screen, send(screen, {"casks.csv": CASKS["casks.csv"].rpartition("C-2")[0]}))
    answer = confirm(screen, looked)
    assert (answer.status_code, casks(sqlite_store)) == (409, 1)
    assert "1 new, 1 the same" in answer.text
    assert confirm(screen, answer).status_code == 302
    assert casks(sqlite_store) == 2


@pytest.mark.parametrize("mark", ["0" * 64, "..", "%2e%2e", "secret"])
def test_files_that_are_not_there_are_asked_for_again(screen: Screen, mark: str) -> None:
    answer = screen.post(f"{PAGE}/{mark}", page=PAGE, shown="0")
    assert answer.status_code in (404, 409)


def test_a_name_never_becomes_a_path(screen: Screen, site: Site) -> None:
    looked = send(screen, {"../../casks.csv": FILES["casks.csv"], "<b>.csv": "code\n"})
    assert looked.status_code == 422
    assert "<b>" not in looked.text
    assert send(screen, CASKS).status_code == 200
    assert [path.name for path in uploads(site) if not re.fullmatch("[0-9a-f]{64}", path.name)] == []
    assert not list(site.folder.rglob("casks.csv"))


def test_more_than_the_page_takes_is_refused(screen: Screen) -> None:
    def sent(blank_lines: int) -> int:
        # By hand: the test client would leave so large a body in an open file.
        head = 'Content-Disposition: form-data; name="{}"{}\r\n\r\n'.format
        parts = (
            head("form_token", "") + screen.token(PAGE),
            head("files", '; filename="casks.csv"') + FILES["casks.csv"] + "\n" * blank_lines,
        )
        body = "".join(f"--edge\r\n{part}\r\n" for part in parts) + "--edge--\r\n"
        kind = "multipart/form-data; boundary=edge"
        return screen.client.post(PAGE, data=body.encode(), content_type=kind).status_code

    assert sent(3_000_000) == 200  # more than other forms take
    assert sent(views.MOST_SENT) == 413


def test_a_second_import_at_the_same_time_waits_and_stops_nobody(
    screen: Screen, app: Flask, site: Site
) -> None:
    importing = app.extensions["kiosk"].importing
    with importing:
        refused = send(screen, CASKS)
    assert refused.status_code == 503
    assert "another import" in refused.text
    assert send(screen, CASKS).status_code == 200


def test_the_preview_of_files_waits_for_no_writer(screen: Screen, sqlite_store: Store) -> None:
    with ThreadPoolExecutor(1) as other, sqlite_store.write():  # held as long as the preview takes
        assert other.submit(send, screen, CASKS).result(timeout=60).status_code == 200
