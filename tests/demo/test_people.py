"""The demo's staff can sign in with the PINs that are printed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

from sqlalchemy import select

from kiosk.demo import tables
from kiosk.demo.people import add_staff, hash_pins, sign_ins
from kiosk.site.shipped import shipped
from kiosk.staff.pins import check_shape, matches
from kiosk.store.engine import Store
from kiosk.store.tables.staff import staff
from tests.actors import CHEAP, small_site


def test_each_hash_is_its_own_persons(sqlite_store: Store, tmp_path: Path, now: datetime) -> None:
    site = small_site(tmp_path)
    people = tables.table(shipped("demo_site") / "staff.csv", tables.STAFF, site.zone)
    with ThreadPoolExecutor() as pool:
        hashes = list(hash_pins(pool, site, people, CHEAP))
    with sqlite_store.write() as session:
        ids = add_staff(session, site, people, hashes, now)
    with sqlite_store.read() as session:
        kept = {row.name: row for row in session.execute(select(staff))}
    assert {name: kept[name].id for name in kept} == ids
    for person in people:
        name, pin = str(person["name"]), str(person["pin"])
        check_shape(pin)
        assert matches(pin, kept[name].pin_hash, site)
        assert any(name in line and pin in line for line in sign_ins(people))
