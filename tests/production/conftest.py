"""A site and a way to import the small folder of records into it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import Table, insert, select, text

from kiosk.production.forms.definitions import FORMS
from kiosk.production.importing.previews import import_folder
from kiosk.production.records.forms import typed_values
from kiosk.production.records.recording import ImportReport
from kiosk.production.records.submission import Submitted, submit_form
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import metadata
from tests.actors import Clock, running, small_site
from tests.production.folder import write

Take = Callable[..., ImportReport]
Enter = Callable[..., Submitted]


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """A site whose clock is four hours behind UTC and whose day turns at five."""
    return small_site(tmp_path)


def taker(store: Store, site: Site, folder: Path, now: datetime) -> Take:
    """Return a function that writes the small folder, changed, and imports it into `store`."""

    def take(*changes: tuple[str, str, str], leave_out: tuple[str, ...] = ()) -> ImportReport:
        for old in folder.glob("*.csv"):
            old.unlink()
        with store.write() as session:
            written = write(folder, *changes, leave_out=leave_out)
            return import_folder(session, site, written, by=None, at=now)

    return take


_IMPORTED: dict[str, list[tuple[Table, list[dict[str, Any]]]]] = {}
"""By kind of database all rows after the small folder was imported into an empty one."""


def import_once(store: Store, take: Take) -> None:
    """Import the small folder the first time; afterwards write the rows that this made."""
    if store.dialect not in _IMPORTED:
        take()
        with store.read() as session:
            _IMPORTED[store.dialect] = [
                (table, [dict(row) for row in session.execute(select(table)).mappings()])
                for table in metadata.sorted_tables
            ]
        return
    with store.write() as session:
        for table, rows in _IMPORTED[store.dialect]:
            if rows:
                session.execute(insert(table), rows)
            if rows and store.dialect == "postgresql" and table.autoincrement_column is not None:
                last = (
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), max(id)) FROM {table.name}"
                )
                session.execute(text(last))


@pytest.fixture
def take(store: Store, site: Site, tmp_path: Path, now: datetime) -> Take:
    """Import the small folder, on each kind of database."""
    return taker(store, site, tmp_path / "records", now)


@pytest.fixture
def take_sqlite(sqlite_store: Store, site: Site, tmp_path: Path, now: datetime) -> Take:
    """Import the small folder, on SQLite alone."""
    return taker(sqlite_store, site, tmp_path / "records", now)


@pytest.fixture
def app(site: Site, sqlite_store: Store, take_sqlite: Take, now: datetime) -> Flask:
    """The pages over the small folder's records."""
    import_once(sqlite_store, take_sqlite)
    return running(site, sqlite_store, Clock(now), features=("web", "staff", "entries", "production"))


@pytest.fixture
def fill_in(store: Store, site: Site, take: Take, now: datetime) -> Enter:
    """Fill a form in over the small folder's records."""
    import_once(store, take)

    def entered(name: str, confirmed: bool = False, **cells: str) -> Submitted:
        with store.write() as session:
            values = typed_values(FORMS[name].fields, cells, site)
            return submit_form(session, site, FORMS[name], values, by=None, at=now, confirmed=confirmed)

    return entered
