"""Whose personal values end when, and that no column is forgotten.

Backups are whole, dated, their owner's own, and gone when their time is over.
"""

from __future__ import annotations

import os
import random
import threading
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import null, select

from kiosk.store import retention, rows, sqlite
from kiosk.store.engine import Store
from kiosk.store.retention import (
    BATCH,
    LogNotEmptied,
    purge_bookings,
    purge_guests,
    remove_old,
    wipe,
)
from kiosk.store.tables import metadata
from kiosk.store.tables.tasting import policies
from kiosk.store.tables.tours import bookings, guests, tours

DAY = date(2026, 6, 16)
KEPT = {
    "staff": "people who work here: their names stand behind what they signed",
    "permits": "of people who work here",
    "visitors": "the register of who is on the site has a retention of its own",
    "held": "reduced, not emptied: kiosk.tasting.room.entry_kinds",
}
"""Tables with personal columns that are not the guests', and why they stay."""


def idle() -> None:
    """Rest without waiting."""


def _party(store: Store, now: datetime, **changes: object) -> int:
    with store.write() as session:
        tour = {"letter": "A", "starts_at": now, "route": "short", "languages": ["en"], "room": "main"}
        tour_id = rows.insert(session, tours, {**tour, "places": 8, "private": False})
        party = {"tour_id": tour_id, "size": 1, "language": "en", "lead_name": "Perpetua", **changes}
        return rows.insert(session, bookings, party)


def _guests(store: Store, now: datetime, day: date, n: int = 1, **changes: object) -> None:
    booking_id = _party(store, now)
    with store.write() as session:
        tour_id = session.scalar(select(bookings.c.tour_id).where(bookings.c.id == booking_id))
        one = {"booking_id": booking_id, "tour_id": tour_id, "day": day, "language": "en", "link_no": 0}
        rows.insert_many(session, guests, [{**one, **changes, "number": number} for number in range(n)])


def _named(store: Store) -> int:
    with store.read() as session:
        return len(session.scalars(select(bookings.c.id).where(bookings.c.lead_name.is_not(None))).all())


def test_every_personal_column_is_emptied_or_kept_for_a_reason() -> None:
    personal = {t.name for t in metadata.tables.values() if any(c.info.get("personal") for c in t.columns)}
    assert personal == {"guests", "bookings", *KEPT}


def test_every_personal_column_of_a_guest_is_null_in_the_database(store: Store, now: datetime) -> None:
    told = {"first_name": "Perpetua", "allergens": ["nuts"], "access_needs": "a chair"}
    _guests(store, now, DAY, **told)
    assert purge_guests(store, DAY + timedelta(days=1), now, idle) == 1
    with store.read() as session:
        empty = [column.is_(null()) for column in guests.c if column.info.get("personal")]
        (one,) = session.execute(select(guests).where(*empty)).all()
    assert (len(empty), one.purged_at, one.number, one.day) == (3, now, 0, DAY)


@pytest.mark.parametrize(("before", "gone"), [(DAY, 0), (DAY + timedelta(days=1), 1)])
def test_a_guest_is_kept_to_the_end_of_the_last_day(
    store: Store, now: datetime, before: date, gone: int
) -> None:
    _guests(store, now, DAY, first_name="Perpetua")
    assert purge_guests(store, before, now, idle) == gone


def test_a_guest_is_purged_once_and_its_time_stands(store: Store, now: datetime) -> None:
    _guests(store, now, DAY)
    purge_guests(store, DAY + timedelta(days=1), now, idle)
    assert purge_guests(store, DAY + timedelta(days=1), now + timedelta(days=1), idle) == 0
    with store.read() as session:
        assert session.scalars(select(guests.c.purged_at)).all() == [now]


def test_many_guests_go_in_batches_with_a_rest_after_each(store: Store, now: datetime) -> None:
    _guests(store, now, DAY, n=2 * BATCH + 1, first_name="Perpetua")
    rests: list[None] = []
    assert purge_guests(store, DAY + timedelta(days=1), now, lambda: rests.append(None)) == 2 * BATCH + 1
    assert len(rests) == 3


def test_a_party_is_forgotten_by_its_tours_day_or_by_its_cancelling(store: Store, now: datetime) -> None:
    long_ago, soon = now - timedelta(days=40), now + timedelta(days=40)
    _party(store, long_ago)
    _party(store, soon, cancelled_at=long_ago)
    _party(store, soon)
    _party(store, now, cancelled_at=now)
    assert purge_bookings(store, now - timedelta(days=30), idle) == 2
    assert _named(store) == 2
    assert purge_bookings(store, now - timedelta(days=30), idle) == 0


def test_copies_of_former_days_go_those_of_migrations_and_unfinished_ones_too(tmp_path: Path) -> None:
    folder, file = tmp_path / "backups", tmp_path / "kiosk.sqlite"
    folder.mkdir()
    old = datetime(2026, 5, 16, 12, tzinfo=UTC).timestamp()
    young = datetime(2026, 5, 17, 12, tzinfo=UTC).timestamp()
    made = {
        folder / "kiosk-2026-05-16.sqlite": young,  # its name counts, not the file's time
        folder / "estate-2026-05-16.zip": young,
        folder / "estate-2026-05-17.zip": old,
        folder / "kiosk-2026-05-17.sqlite": old,
        folder / "x.part": old,
        folder / "y.part": young,
        tmp_path / "kiosk.from-0007.1.sqlite": old,
        tmp_path / "kiosk.from-0007.2.sqlite": young,
        file: old,
    }
    for path, at in made.items():
        path.touch()
        os.utime(path, (at, at))
    (folder / ".z.part").mkdir()  # of a backup that was killed
    (folder / ".z.part" / "kiosk.sqlite").touch()
    os.utime(folder / ".z.part", (old, old))
    gone = remove_old(file, folder, date(2026, 5, 17), UTC)
    assert {path.name for path in gone} == {
        *("kiosk-2026-05-16.sqlite", "estate-2026-05-16.zip", "x.part", ".z.part"),
        "kiosk.from-0007.1.sqlite",
    }
    assert {path for path in (*made, folder / ".z.part") if path.exists()} == made.keys() - set(gone)


WORD = "Perpetua"


def grown(file: Path) -> Any:
    """Make a table whose rows grew in any order, so that pages were split, and empty what was personal."""
    connection = sqlite.driver().module.connect(str(file))
    sqlite.prepare(connection)
    connection.execute("CREATE TABLE guests (id INTEGER PRIMARY KEY, number INTEGER, name TEXT)")
    rng = random.Random(0)
    connection.execute("BEGIN")
    for number in range(1200):
        connection.execute("INSERT INTO guests (number) VALUES (?)", (number,))
    for _ in range(4):
        for row in rng.sample(range(1, 1201), 1200):
            name = WORD * rng.randrange(1, 30)
            connection.execute("UPDATE guests SET name = ? WHERE id = ?", (name, row))
    connection.execute("COMMIT")
    connection.execute("UPDATE guests SET name = NULL")
    return connection


def words_in(file: Path) -> int:
    """Count the word in a file and its log."""
    files = [path for path in file.parent.iterdir() if path.name.startswith(file.name)]
    return sum(path.read_bytes().count(WORD.encode()) for path in files)


def test_a_file_keeps_copies_of_what_was_emptied_until_it_is_wiped(tmp_path: Path) -> None:
    """Overwriting what is deleted is not enough: the first half shows why the second is needed."""
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert words_in(file) > 0
    wipe(file)
    assert words_in(file) == 0


def test_a_file_in_use_is_wiped_and_goes_on_being_used(tmp_path: Path) -> None:
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as connection:
        wipe(file)
        connection.execute("INSERT INTO guests (number) VALUES (9999)")
        assert connection.execute("SELECT count(*) FROM guests").fetchone() == (1201,)
    assert words_in(file) == 0


@pytest.mark.skipif(sqlite.driver().journal_mode != "WAL", reason="a rollback journal is no log")
def test_a_reader_that_does_not_end_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(retention, "WIPE_PATIENCE_MS", 1)
    file = tmp_path / "kiosk.sqlite"
    with closing(grown(file)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM guests").fetchone()
        found: list[BaseException] = []
        thread = threading.Thread(target=lambda: found.extend(_raised(file)))
        thread.start()
        thread.join()
        reader.execute("ROLLBACK")
    assert [type(one) for one in found] == [LogNotEmptied]


def _raised(file: Path) -> list[BaseException]:
    try:
        wipe(file)
    except LogNotEmptied as error:
        return [error]
    return []


@pytest.mark.parametrize(
    ("named", "left"), [((), [None, None, None]), (("2 fl oz",), ["2 fl oz", "-", None])]
)
def test_of_a_ticket_its_kind_alone_stays_where_rules_name_it(
    store: Store, now: datetime, named: tuple[str, ...], left: list[str | None]
) -> None:
    """To rules with kinds of tickets no ticket is every kind: what was served would become a breach."""
    limits = [{"id": "step", "tickets": list(named)}]
    rules = {"key": "a" * 32, "at": now, "recorded_at": now, "digest": "", "basis": ""}
    with store.write() as session:
        session.execute(policies.insert().values(**rules, body={"limits": limits}))
    long_ago = now - timedelta(days=40)
    for ticket in ("2 fl oz", "T-4711", None):
        _party(store, long_ago, ticket=ticket, source_key=ticket)
    assert purge_bookings(store, now, idle) == 3
    with store.read() as session:
        assert session.scalars(select(bookings.c.ticket).order_by(bookings.c.id)).all() == left
        assert set(session.scalars(select(bookings.c.source_key))) == {None}
    assert purge_bookings(store, now, idle) == 0
