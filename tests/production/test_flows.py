"""What a request of the records costs: its queries, and the files of the program that it runs."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import FrameType

import pytest
from flask import Flask
from sqlalchemy import event

import kiosk
from kiosk.production.readings_api.receiving import bind_instrument
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.actors import hire, signed_in
from tests.production.readings_api.test_receiving import STILL

ROOT = str(Path(kiosk.__file__).parent)


@contextmanager
def counted(store: Store) -> Iterator[tuple[list[str], set[str]]]:
    """Collect the queries and the files of the program that are used meanwhile."""
    queries: list[str] = []
    files: set[str] = set()

    def asked(*arguments: object) -> None:
        if not str(arguments[2]).startswith(("PRAGMA", "BEGIN")):
            queries.append(str(arguments[2]))

    def called(frame: FrameType, happens: str, _argument: object) -> None:
        if happens == "call" and frame.f_code.co_filename.startswith(ROOT):
            files.add(frame.f_code.co_filename)

    former: Callable[..., object] | None = sys.getprofile()
    event.listen(store.engine, "before_cursor_execute", asked)
    sys.setprofile(called)
    try:
        yield queries, files
    finally:
        sys.setprofile(former)
        event.remove(store.engine, "before_cursor_execute", asked)


def test_a_reading_of_an_instrument_takes_few_queries_and_files(
    app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    with sqlite_store.write() as session:
        token = bind_instrument(session, site, "meter", ["SS"], now)
    headers, client = {"Authorization": f"Bearer {token}"}, app.test_client()
    first = {**STILL, "id": "r-0", "at": "2026-06-06T13:40:00-04:00", "collected_l": 257}
    assert client.post("/staff/readings", json=first, headers=headers).status_code == 201
    with counted(sqlite_store) as (queries, files):
        assert client.post("/staff/readings", json=STILL, headers=headers).status_code == 201
    assert len(queries) <= 12, queries
    assert len(files) <= 24, sorted(files)


@pytest.mark.parametrize("path", ["", "held", "new/still-reading", "gauges/1"])
def test_a_page_of_the_records_takes_few_queries(
    app: Flask, sqlite_store: Store, site: Site, now: datetime, path: str
) -> None:
    hire(sqlite_store, site, now, "First", ("manager",))
    screen = signed_in(app, sqlite_store, site, now, "production", "Ana")
    with counted(sqlite_store) as (queries, _files):
        assert screen.get(f"/staff/records/{path}").status_code == 200
    assert len(queries) <= 25, queries
