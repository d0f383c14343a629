"""Prepares the demo in a folder of its own: files, dates, database, records, people, bookings."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from argon2 import PasswordHasher
from sqlalchemy.orm import Session

from kiosk.demo import tables
from kiosk.demo.bar import add_stock
from kiosk.demo.booking import add_approvals, add_bookings, add_flights, add_tours
from kiosk.demo.calendar import calendar_for, move_files
from kiosk.demo.people import add_staff, hash_pins, sign_ins
from kiosk.demo.sending import add_instruments
from kiosk.production.importing.columns import Column
from kiosk.production.importing.importing import import_folder
from kiosk.production.importing.reading import Line
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.staff.devices import new_code
from kiosk.staff.pins import HASHER
from kiosk.store.engine import open_store
from kiosk.store.ledgers import new_key
from kiosk.store.migrate import upgrade
from kiosk.tasting.rules import policy

# What makes the estate's files, and what a site of one's own would hold, stay behind.
_LEFT_BEHIND = shutil.ignore_patterns("*.py", "__pycache__", "secret", "*.sqlite*")
_DEVICES = (("tablet 1", "mirador"), ("tablet 2", None))
# Codes of a real site live half an hour; a demo may stand open until somebody has time for it.
_CODES_LIVE_ON = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Prepared:
    """A demo ready to be served: its folder, its database, and what to tell whoever opens it.

    `sending` is a shell line that sends a reading to `{address}`.
    """

    folder: Path
    database: str
    sign_ins: tuple[str, ...]
    sending: str = ""


def prepare_demo(
    folder: Path, now: datetime, say: Callable[[str], None], *, hasher: PasswordHasher = HASHER
) -> Prepared:
    """Make the demo in `folder`, which must not exist, as if its last day were the day of `now`.

    The database lies in the folder whatever the environment says: a demo never
    touches a site's own records. `say` is told what is being done.
    """
    say("Copying the invented estate Loma Candil ...")
    shutil.copytree(shipped("demo_site"), folder, ignore=_LEFT_BEHIND)
    make_secret(folder)
    site = load_site(folder, database=f"sqlite:///{folder.resolve() / 'kiosk.sqlite'}")
    say("Moving its dates so that its last day is today ...")
    move_files(folder, calendar_for(site, folder / "records", now))
    say("Making its database ...")
    people = tables.table(folder / "staff.csv", tables.STAFF, site.zone)
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        # A hash is slow on purpose: they are made beside the tables, on every core.
        making = hash_pins(pool, site, people, hasher)
        upgrade(site.database, backup=False)
        hashes = list(making)
    say("Taking in its records, people and bookings ...")
    store = open_store(site.database)
    try:
        with store.write() as session:
            codes, manager = _fill(session, site, folder, people, hashes, now)
            sending = add_instruments(session, site, manager, now)
    finally:
        store.close()
    told = (*_enrolling(codes), "Sign in:", *sign_ins(people))
    return Prepared(folder, site.database, told, sending)


def _fill(
    session: Session, site: Site, folder: Path, people: Sequence[Line], hashes: Sequence[str], now: datetime
) -> tuple[Mapping[str, str], int]:
    """Take everything in; return one-time codes by device, and the manager, who answers for it."""
    staff = add_staff(session, site, people, hashes, now)
    manager = next(staff[str(one["name"])] for one in people if "manager" in str(one["roles"]))
    import_folder(session, site, folder / "records", by=manager, at=now)

    def read(file: str, columns: Sequence[Column]) -> list[Line]:
        return tables.table(folder / file, columns, site.zone)

    flights = add_flights(session, site, read("bookings/flights.csv", tables.FLIGHTS))
    tour_ids = add_tours(session, site, read("bookings/tours.csv", tables.TOURS), flights, staff)
    add_bookings(session, site, read("bookings/bookings.csv", tables.BOOKINGS), tour_ids, manager, now)
    add_approvals(session, read("approvals.csv", tables.APPROVALS), manager)
    add_stock(session, site, read("stock.csv", tables.STOCK), manager, now)
    policy.confirm(session, site, key=new_key(), by=manager, at=now)
    later = now + _CODES_LIVE_ON
    codes = {name: new_code(session, site, name, "tablet", room, later) for name, room in _DEVICES}
    return codes, manager


def _enrolling(codes: Mapping[str, str]) -> list[str]:
    lines = [f"  {code}  for {name}" for name, code in codes.items()]
    return ["A browser becomes a staff device with a one-time code, at /staff/enrol:", *lines]
