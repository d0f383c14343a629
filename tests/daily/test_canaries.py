"""Names whose time is over are in no row, no history, no byte of the files; every count stays.

Unmistakable words are written into every personal column through the doors that take
them, some corrected, some withdrawn, some held, and taken through the daily run.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from kiosk.app import entry_kinds
from kiosk.daily import BACKUPS, Daily
from kiosk.entries.intake import Sender, take_in_entries
from kiosk.store import rows, sqlite
from kiosk.store.engine import Store, open_store
from kiosk.store.ledgers import new_key
from kiosk.store.tables import metadata
from kiosk.store.tables.production import held
from kiosk.store.tables.tours import bookings, guests, tours
from kiosk.tasting.shift_closing import closing
from kiosk.tours.checkin import arrivals
from kiosk.words.catalogs import load_words
from tests.actors import site_files
from tests.databases import run_with_standard_module
from tests.tasting_room import Tasting, tasting_site

CANARY = "Perpetua"
PIECE = b"erpetu"
"""What is looked for in bytes: a word that lost its edges is still a word."""
LIVING = "Segismunda"
LATER = timedelta(days=31)
GUESTS = 240


def word(rng: random.Random) -> str:
    """Return a canary of a length of its own, so that rows grow and move."""
    return f"{CANARY}{rng.randrange(10**6)}{'x' * rng.randrange(20)}"


@pytest.fixture
def place(database_url: str, tmp_path: Path) -> Iterator[Tasting]:
    """A tasting on a database of each kind, its site's address naming it."""
    site = tasting_site(tmp_path / "site", database=database_url)
    site.folder.mkdir()
    site_files(site.folder)
    if database_url.startswith("sqlite"):
        file = Path(shutil.move(sqlite.file_of(database_url) or "", site.folder / "kiosk.sqlite"))
        site = tasting_site(site.folder, database=f"sqlite:///{file}")
    store = open_store(site.database)
    yield Tasting.begun(store, site, datetime.fromisoformat("2026-06-16T15:00+00:00"), guests=3)
    store.close()


def fill(tasting: Tasting, rng: random.Random) -> None:
    """Write canaries wherever a person's words can go."""
    store, now = tasting.store, tasting.now
    day = tasting.site.service_day(now)
    ids: list[int] = []
    with store.write() as session:
        for _ in range(GUESTS // 6):
            party = {"tour_id": tasting.tour, "size": 6, "language": "es"}
            told = {"lead_name": word(rng), "contact": word(rng), "notes": word(rng) * rng.randrange(1, 12)}
            told |= {"ticket": word(rng), "source_key": word(rng)}
            booking_id = rows.insert(session, bookings, {**party, **told})
            for _ in range(6):
                guest = {"booking_id": booking_id, "tour_id": tasting.tour, "day": day, "language": "es"}
                values = {**guest, "number": 100 + len(ids), "link_no": 0}
                ids.append(rows.insert(session, guests, values))
            rows.change(session, bookings, booking_id, 1, {"contact": word(rng)}, by=tasting.ana, at=now)
    for revision in (1, 2, 3):  # told at the desk, misheard, corrected
        rng.shuffle(ids)
        with store.write() as session:
            for guest_id in ids:
                told = {"first_name": word(rng), "allergens": [word(rng)], "access_needs": word(rng) * 3}
                rows.change(session, guests, guest_id, revision, told, by=tasting.ana, at=now, why="told")
    with store.write() as session:
        for guest_id in ids[: GUESTS // 10]:
            rows.void(session, guests, guest_id, 4, by=tasting.ana, at=now)
    with store.write() as session:  # through the desk's own form
        arrivals.record_allergens(session, tasting.tour, ids[-1], 4, ["milk"], by=tasting.ana, at=now)
    _hold(tasting, rng)


def _hold(tasting: Tasting, rng: random.Random) -> None:
    """Send rows that cannot be taken, with words in every part; settle one of them."""
    texts = {name: word(rng) for name in ("key", "ledger", "product", "detail", "kind", "at", "note", "by")}
    good = {"ledger": "pours", "key": new_key(), "guest": 999_999, "product": "blanco", "volume_ul": 7393}
    good |= {"asked": False}  # what was poured is held; what is asked now is refused
    sent = [texts, {**good, "note": word(rng)}, {**good, "key": new_key(), "guest": 1, "product": word(rng)}]
    sent.append({"ledger": "marks", "key": new_key(), "guest": 1, "kind": "liked", "detail": word(rng)})
    sent.append({word(rng): {"name": [word(rng)]}})
    answers = take_in_entries(
        tasting.store, tasting.site, entry_kinds(), lambda *_: Sender(tasting.tablet), sent, tasting.now
    )
    assert {answer.outcome for answer in answers} == {"held"}
    shut_out = Sender(tasting.tablet, revoked_at=tasting.now)
    take_in_entries(tasting.store, tasting.site, entry_kinds(), lambda *_: shut_out, [good], tasting.now)
    with tasting.store.write() as session:
        first = session.execute(select(held.c.id).order_by(held.c.id)).first()
        settled = {"settled_at": tasting.now, "settled_by": tasting.ana, "outcome": "dropped"}
        rows.change(session, held, first.id, 1, settled, by=tasting.ana, at=tasting.now)


def work(tasting: Tasting) -> None:
    """Check, pour, correct, refuse and close, so that there is something to count."""
    first, second, third = tasting.guests
    tasting.check(first, second)
    glasses = [tasting.pour(first) for _ in range(3)]
    tasting.pour(second, "anejo")
    tasting.pour(third)
    tasting.correct(glasses[0].key, "reassign", second)
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        closing.sign(session, tasting.site, tasting.origin(), "main", day, 24.0, tasting.now)


def daily(tasting: Tasting, now: datetime, rest: Any = lambda: None) -> list[str]:
    """Run the daily work and return what it said."""
    said: list[str] = []
    words = load_words(Path("locales"), "en", "en_US")
    assert Daily(tasting.site, tasting.store, words, now, said.append, rest).run(), said
    return said


def told(store: Store, *kinds: str) -> dict[str, list[dict[str, Any]]]:
    """Return every row of the tables of some kinds, in order of their keys."""
    found = {}
    with store.read() as session:
        for table in metadata.sorted_tables:
            if not kinds or table.info["kind"] in kinds:
                order = list(table.primary_key.columns) or list(table.c)
                found[table.name] = [
                    dict(one) for one in session.execute(select(table).order_by(*order)).mappings()
                ]
    return found


def counts(tasting: Tasting, day: datetime) -> Any:
    """Return what the ledgers tell and what they add up to: each guest's drinks, the closing."""
    ledgers = told(tasting.store, "ledger")
    del ledgers["history"]  # the daily run adds itself
    with tasting.store.read() as session:
        of_day = tasting.site.service_day(day)
        body = closing.body(session, tasting.site, "main", of_day, 24.0)
    return ledgers, body, [(tile.number, tile.had, tile.samples) for tile in tasting.room().tiles]


def bytes_of(folder: Path) -> dict[str, int]:
    """Return how often a canary's piece stands in each file under a folder, and in each file of a backup."""
    found = {path.name: path.read_bytes().count(PIECE) for path in folder.rglob("*") if path.is_file()}
    for path in folder.rglob("*.zip"):
        with zipfile.ZipFile(path) as packed:
            found[path.name] += sum(packed.read(name).count(PIECE) for name in packed.namelist())
    return found


def copied(folder: Path) -> dict[str, int]:
    """Look into a copy made by another process: closing such a file drops the locks of its process."""
    copy = folder.with_name("copy")
    subprocess.run(["cp", "-r", str(folder), str(copy)], check=True)
    return bytes_of(copy)


def test_no_canary_is_left_and_every_count_is(place: Tasting) -> None:
    rng = random.Random(6)
    fill(place, rng)
    work(place)
    begun = place.now
    before = counts(place, begun)
    daily(place, begun)  # within their time names stay, in the backup too
    assert CANARY in str(told(place.store)["guests"])
    folder = place.site.folder
    on_sqlite = place.store.dialect == "sqlite"
    assert bytes_of(folder)["small-site-2026-06-16.zip"]
    if on_sqlite:
        migrated = folder / "kiosk.from-0001.1.sqlite"
        with zipfile.ZipFile(folder / BACKUPS / "small-site-2026-06-16.zip") as packed:
            migrated.write_bytes(packed.read("kiosk.sqlite"))
        os.utime(migrated, (begun.timestamp(), begun.timestamp()))
    with place.store.write() as session:
        party = {"tour_id": place.tour, "size": 1, "language": "en", "cancelled_at": begun}
        rows.insert(session, bookings, {**party, "lead_name": LIVING})
    now = begun + LATER
    newcomer(place, now)
    daily(place, now)
    every = told(place.store)
    assert CANARY not in str(every)
    assert not [one for one in every["guests"] if one["purged_at"] and one["allergens"]]
    assert LIVING in str(every["guests"])
    assert LIVING not in str(every["bookings"]), "a cancelled party's time runs from its cancelling"
    assert {one["purged_at"] for one in every["guests"] if one["number"] >= 100} == {now}
    assert {one["purged_at"] for one in every["guests"] if one["first_name"] == LIVING} == {None}
    assert counts(place, begun) == before
    if on_sqlite:
        running = copied(folder)
        place.store.close()
        for found in (running, bytes_of(folder)):
            assert {"kiosk.sqlite", "small-site-2026-07-17.zip"} <= found.keys()
            assert not any(found.values()), found
            assert "small-site-2026-06-16.zip" not in found
            assert "kiosk.from-0001.1.sqlite" not in found
    assert bytes_of(folder)["small-site-2026-07-17.zip"] == 0


def newcomer(tasting: Tasting, now: datetime) -> None:
    """Let somebody come today who gave a name."""
    with tasting.store.write() as session:
        tour = {"letter": "B", "starts_at": now, "route": "main", "languages": ["en"], "room": "main"}
        tour_id = rows.insert(session, tours, {**tour, "places": 4, "private": False})
        booking_id = rows.insert(session, bookings, {"tour_id": tour_id, "size": 1, "language": "en"})
        guest = {
            "booking_id": booking_id,
            "tour_id": tour_id,
            "day": tasting.site.service_day(now),
            "number": 1,
        }
        rows.insert(session, guests, {**guest, "language": "en", "link_no": 0, "first_name": LIVING})


def test_a_second_run_changes_nothing_and_a_name_that_came_back_goes_again(place: Tasting) -> None:
    guest = place.guests[0]
    now = place.now + LATER
    daily(place, now)
    once = told(place.store, "row", "ledger")
    assert "0 guests" in daily(place, now)[0]
    again = told(place.store, "row", "ledger")
    del once["history"], again["history"]
    assert once == again
    with place.store.write() as session:
        rows.change(session, guests, guest, 1, {"first_name": CANARY}, by=None, at=now)
    assert "1 guest " in daily(place, now)[0]
    assert CANARY not in str(told(place.store))


def test_pouring_goes_on_between_two_batches(place: Tasting) -> None:
    fill(place, random.Random(7))
    now = place.now + LATER
    poured: list[str] = []
    place.check(place.guests[0])

    def pour() -> None:
        poured.append(place.pour(place.guests[0], asked=False).outcome)

    daily(place, now, rest=pour)
    assert len(poured) >= 2
    assert set(poured) == {"poured"}


@pytest.mark.skipif(os.environ.get("KIOSK_SQLITE") == "stdlib", reason="runs with the library of choice")
def test_no_canary_is_left_with_the_standard_module_and_its_journal() -> None:
    done = run_with_standard_module(__file__, "-k", "sqlite and no_canary_is_left_and")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 passed" in done.stdout
