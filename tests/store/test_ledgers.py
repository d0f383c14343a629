"""A ledger is only added to, and an entry sent twice stands once."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta, timezone

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import DBAPIError

from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.errors import KeyConflict
from kiosk.store.ledgers import Appended, append, keys_within, new_key
from kiosk.store.tables import metadata
from kiosk.store.tables.production import casks
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import policies
from kiosk.store.triggers import trigger_names

KEY = "0123456789abcdef" * 2
LEDGERS = sorted(name for name, table in metadata.tables.items() if table.info["kind"] == "ledger")


def _entry(now: datetime, **other: object) -> dict[str, object]:
    body = {"digest": "d", "body": {"limit": [1, 2], "age": 21}, "basis": "house"}
    return {"key": KEY, "at": now, "recorded_at": now, **body, **other}


def _add(store: Store, entry: dict[str, object], **options: tuple[str, ...]) -> Appended:
    with store.write() as session:
        return append(session, policies, entry, **options)


def _count(store: Store) -> int:
    with store.read() as session:
        return session.scalars(select(func.count()).select_from(policies)).one()


def test_keys_are_128_bits_and_never_alike() -> None:
    keys = {new_key() for _ in range(1000)}
    assert len(keys) == 1000
    assert all(len(key) == 32 and int(key, 16) >= 0 for key in keys)


def test_the_same_entry_again_changes_nothing(store: Store, now: datetime) -> None:
    assert _add(store, _entry(now)) is Appended.NEW
    assert _add(store, _entry(now)) is Appended.SAME
    assert _count(store) == 1


@pytest.mark.parametrize(
    "again",
    [
        {"recorded_at": timedelta(hours=3)},
        {"at": timezone(timedelta(hours=-4))},
        {"body": {"age": 21, "limit": (1, 2)}},
    ],
    ids=["recorded later", "told in another zone", "keys in another order"],
)
def test_what_says_the_same_is_the_same(store: Store, now: datetime, again: dict[str, object]) -> None:
    (name, value), *_ = again.items()
    said = now + value if isinstance(value, timedelta) else value
    said = now.astimezone(value) if isinstance(value, timezone) else said
    _add(store, _entry(now))
    assert _add(store, _entry(now, **{name: said})) is Appended.SAME


@pytest.mark.parametrize(
    ("name", "value"),
    [("digest", "e"), ("body", {"limit": [1, 2], "age": 18}), ("basis", "law")],
)
def test_another_body_under_the_same_key_is_a_conflict(
    store: Store, now: datetime, name: str, value: object
) -> None:
    _add(store, _entry(now))
    with pytest.raises(KeyConflict) as told:
        _add(store, _entry(now, **{name: value}))
    assert told.value.columns == (name,)
    assert told.value.status == 409
    assert _count(store) == 1


def test_another_persons_entry_under_the_same_key_is_a_conflict(store: Store, now: datetime) -> None:
    with store.write() as session:
        ana, bea = (
            rows.insert(session, staff, {"name": name, "pin_hash": "x", "languages": ["en"]})
            for name in ("Ana", "Bea")
        )
    _add(store, _entry(now, by=ana))
    assert _add(store, _entry(now, by=ana)) is Appended.SAME
    for other in (bea, None):
        with pytest.raises(KeyConflict) as conflict:
            _add(store, _entry(now, by=other))
        assert conflict.value.columns == ("by",)


def test_another_time_is_another_body(store: Store, now: datetime) -> None:
    _add(store, _entry(now))
    with pytest.raises(KeyConflict):
        _add(store, _entry(now + timedelta(seconds=1)))


def test_what_the_server_found_out_by_itself_is_not_compared(store: Store, now: datetime) -> None:
    _add(store, _entry(now))
    assert _add(store, _entry(now, digest="e"), ignoring=("digest",)) is Appended.SAME


def test_only_a_ledger_takes_entries(store: Store) -> None:
    with pytest.raises(TypeError), store.write() as session:
        append(session, casks, {"key": KEY})


def test_a_key_of_another_length_is_refused(store: Store, now: datetime) -> None:
    with pytest.raises(DBAPIError):
        _add(store, _entry(now, key="short"))


def test_one_of_many_senders_of_one_entry_is_new(store: Store, now: datetime) -> None:
    answers: list[object] = []
    ready = threading.Barrier(8)

    def send() -> None:
        ready.wait(timeout=10)
        try:
            answers.append(_add(store, _entry(now)))
        except Exception as error:
            answers.append(error)

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert sorted(map(str, answers)) == ["Appended.NEW", *["Appended.SAME"] * 7]
    assert _count(store) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE policies SET basis = 'law'",
        "DELETE FROM policies",
        f"DELETE FROM policies WHERE key = '{KEY}'",
    ],
)
def test_the_database_itself_refuses_to_change_an_entry(store: Store, now: datetime, statement: str) -> None:
    _add(store, _entry(now))
    with pytest.raises(DBAPIError, match="only ever added"), store.write() as session:
        session.execute(text(statement))
    assert _count(store) == 1


def test_replacing_an_entry_is_refused_on_sqlite(sqlite_store: Store, now: datetime) -> None:
    """INSERT OR REPLACE removes the old row without saying DELETE."""
    _add(sqlite_store, _entry(now))
    replace = "INSERT OR REPLACE INTO policies SELECT key, at, recorded_at, by, device_id, 'e', body, basis"
    with pytest.raises(DBAPIError, match="only ever added"), sqlite_store.write() as session:
        session.execute(text(f"{replace.replace('by,', chr(34) + 'by' + chr(34) + ',')} FROM policies"))


def test_emptying_a_ledger_is_refused_on_postgresql(postgresql_store: Store) -> None:
    with pytest.raises(DBAPIError, match="only ever added"), postgresql_store.write() as session:
        session.execute(text("TRUNCATE policies"))


def test_the_history_of_rows_cannot_be_rewritten(store: Store, now: datetime) -> None:
    with store.write() as session:
        cask_id = rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
        rows.change(session, casks, cask_id, 1, {"wood": "ash"}, by=None, at=now)
    with pytest.raises(DBAPIError, match="only ever added"), store.write() as session:
        session.execute(text("UPDATE history SET why = 'nothing happened'"))


def test_every_ledger_has_its_triggers(store: Store) -> None:
    lists = {
        "sqlite": "SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE NOT tgisinternal",
    }
    with store.read() as session:
        found = {tuple(row) for row in session.execute(text(lists[store.dialect]))}
    assert len(LEDGERS) >= 8
    assert found == {(table, name) for table in LEDGERS for name in trigger_names(table, store.dialect)}


def test_the_keys_of_an_act_end_in_any_eight_digits() -> None:
    assert keys_within(KEY) == (KEY[:24] + "00000000", KEY[:24] + "ffffffff")
