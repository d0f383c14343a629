"""Guests from before places were kept get one each, in the order in which they were checked in."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest
from sqlalchemy import select

from kiosk.cli.console import open_site
from kiosk.site.loading import load_site
from kiosk.store.copying import copy_database
from kiosk.store.engine import open_store
from kiosk.store.migrate import downgrade
from kiosk.store.tables.tours import guests
from tests.databases import DemoCopy, Postgres, sqlite_url

BEFORE = "0022"


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_each_guest_from_before_has_a_place(
    request: pytest.FixtureRequest, tmp_path: Path, prepared_demo: DemoCopy, kind: str
) -> None:
    folder = prepared_demo(tmp_path / "site").folder
    url = sqlite_url(folder / "kiosk.sqlite")
    if kind == "sqlite":
        _opened_again(folder, url)
        return
    server: Postgres = request.getfixturevalue("postgresql")
    with server.database() as other:
        store = open_store(url)
        copy_database(store, other)
        store.close()
        _opened_again(folder, other)


def _opened_again(folder: Path, url: str) -> None:
    downgrade(url, BEFORE)
    places: dict[int, list[int | None]] = defaultdict(list)
    with open_site(load_site(folder, database=url)) as store, store.read() as session:
        in_order = select(guests.c.booking_id, guests.c.place).order_by(guests.c.booking_id, guests.c.number)
        for booking_id, place in session.execute(in_order):
            places[booking_id].append(place)
    assert places
    for placed in places.values():
        assert placed == list(range(1, len(placed) + 1))
