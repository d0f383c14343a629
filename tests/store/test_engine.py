"""The gate lets writers through one at a time, in the order of arrival.

Reading never writes, writing is whole or nothing, and the addresses are understood.
"""

from __future__ import annotations

import threading
import time
from contextlib import closing
from datetime import datetime, timedelta, timezone

import pytest
from sqlalchemy import URL, insert, make_url, select, text
from sqlalchemy.exc import DBAPIError, IntegrityError, StatementError
from sqlalchemy.orm import Session

from kiosk.store.engine import Store, WriteGate, open_store, run
from kiosk.store.errors import AddressUnusable, Busy
from kiosk.store.sqlite import driver
from kiosk.store.tables.production import casks, imports
from kiosk.store.tables.shared import site_mark
from kiosk.store.tables.tours import bookings

WAIT_S = 30


def test_writers_pass_in_the_order_of_arrival() -> None:
    gate, passed = WriteGate(WAIT_S), []

    def write(n: int) -> None:
        with gate.held():
            passed.append(n)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(20)]
    with gate.held():
        for n, thread in enumerate(threads):
            thread.start()
            while len(gate._waiting) <= n:
                time.sleep(0.001)
    for thread in threads:
        thread.join(timeout=10)
    assert passed == list(range(20))


def test_two_never_hold_it_at_once() -> None:
    gate, inside, most = WriteGate(WAIT_S), [0], [0]

    def write() -> None:
        for _ in range(200):
            with gate.held():
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                inside[0] -= 1

    threads = [threading.Thread(target=write) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert most == [1]


def test_an_error_inside_opens_it_again() -> None:
    gate = WriteGate(WAIT_S)
    with pytest.raises(ZeroDivisionError), gate.held():
        raise ZeroDivisionError
    with gate.held():
        pass


def test_a_thread_that_holds_it_is_told_instead_of_waiting_for_itself() -> None:
    gate = WriteGate(WAIT_S)
    with gate.held(), pytest.raises(RuntimeError, match="inside another one"), gate.held():
        pass
    with gate.held():
        pass


def test_a_turn_given_up_is_passed_on() -> None:
    gate = WriteGate(WAIT_S)
    turn = threading.Lock()
    with gate.held():
        gate._waiting.append((0, turn))
        gate._give_up(0, turn)
    assert gate._holder is None
    gate._holder = 0  # as if the turn had just been given to the one who was interrupted
    gate._give_up(0, turn)
    with gate.held():
        pass


def test_nobody_waits_for_ever_and_the_turn_goes_to_the_next() -> None:
    gate, told = WriteGate(0.05), []

    def write() -> None:
        try:
            with gate.held():
                told.append("in")
        except Busy:
            told.append("busy")

    threads = [threading.Thread(target=write) for _ in range(3)]
    with gate.held():
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=10)
    assert told == ["busy"] * 3
    assert not gate._waiting
    write()
    assert told[-1] == "in"


CASK = {"code": "C1", "wood": "oak", "capacity_ml": 200_000}


def _codes(store: Store) -> list[str]:
    with store.read() as session:
        return list(session.scalars(select(casks.c.code)))


def _insert_cask(store: Store) -> None:
    with store.write() as session:
        session.execute(insert(casks).values(CASK))


def test_a_clean_exit_commits(store: Store) -> None:
    _insert_cask(store)
    assert _codes(store) == ["C1"]


def test_an_error_rolls_everything_back(store: Store) -> None:
    def insert_and_fail() -> None:
        with store.write() as session:
            session.execute(insert(casks).values(CASK))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        insert_and_fail()
    assert _codes(store) == []


def test_a_reading_transaction_cannot_write(store: Store) -> None:
    with pytest.raises(DBAPIError, match=r"(?i)read-?only"), store.read() as session:
        session.execute(insert(casks).values(CASK))
    with store.write() as session:
        session.execute(insert(casks).values(CASK))
    assert _codes(store) == ["C1"]


def test_a_write_inside_a_read_is_refused(store: Store) -> None:
    with store.read(), pytest.raises(RuntimeError, match="inside a read"), store.write():
        pass
    with store.write():
        pass


def test_foreign_keys_are_enforced(store: Store) -> None:
    party = {"tour_id": 99, "size": 2, "language": "en"}
    with pytest.raises(IntegrityError), store.write() as session:
        session.execute(insert(bookings).values(party))


@pytest.mark.parametrize("hours", [0, -4, 5.5])
def test_an_instant_comes_back_in_utc_whatever_its_zone(store: Store, now: datetime, hours: float) -> None:
    at = now.astimezone(timezone(timedelta(hours=hours))) + timedelta(microseconds=123_456)
    with store.write() as session:
        session.execute(insert(imports).values(at=at, files=[]))
    with store.read() as session:
        found = session.scalars(select(imports.c.at)).one()
    assert found == at
    assert found.utcoffset() == timedelta(0)


def test_a_time_without_a_zone_is_refused(store: Store) -> None:
    with pytest.raises(StatementError, match="without a zone"), store.write() as session:
        session.execute(insert(imports).values(at=datetime(2026, 6, 16, 15), files=[]))  # noqa: DTZ001


def test_sqlite_keeps_every_acknowledged_row(sqlite_database_url: str) -> None:
    wanted = {"synchronous": 2, "foreign_keys": 1, "secure_delete": 1, "recursive_triggers": 1}
    store = open_store(sqlite_database_url)
    with store.write() as session:
        found = {name: session.execute(text(f"PRAGMA {name}")).scalar_one() for name in wanted}
    store.close()
    assert found == wanted


def test_a_write_holds_the_sqlite_file_from_its_first_moment(
    sqlite_store: Store, sqlite_database_url: str
) -> None:
    """Another process that also decides has to wait before it reads, not when it writes."""
    module, file = driver().module, make_url(sqlite_database_url).database
    with closing(module.connect(file, timeout=0)) as other:
        with sqlite_store.write(), pytest.raises(module.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
        other.execute("BEGIN IMMEDIATE")


def test_writers_of_one_process_wait_at_the_gate(sqlite_store: Store) -> None:
    gate = sqlite_store._gate
    assert gate is not None
    with sqlite_store.write():
        other = threading.Thread(target=_insert_cask, args=(sqlite_store,))
        other.start()
        until = time.monotonic() + 10
        while not gate._waiting and time.monotonic() < until:
            time.sleep(0.001)
        assert len(gate._waiting) == 1
    other.join(timeout=10)
    assert _codes(sqlite_store) == ["C1"]


def test_postgresql_waits_for_locks_only_so_long(postgresql_database_url: str) -> None:
    store = open_store(postgresql_database_url)
    with store.read() as session:
        assert session.execute(text("SHOW lock_timeout")).scalar_one() == "10s"
        assert session.execute(text("SHOW transaction_isolation")).scalar_one() == "read committed"
    store.close()


def test_a_postgresql_schema_may_be_named_in_the_address(postgresql_database_url: str) -> None:
    url = make_url(postgresql_database_url).update_query_dict({"options": "-csearch_path=annex"})
    store = open_store(url.render_as_string(hide_password=False))
    with store.write() as session:
        session.execute(text("CREATE SCHEMA annex"))
    with store.read() as session:
        assert session.execute(text("SELECT current_schema()")).scalar_one() == "annex"
    store.close()


def test_any_other_database_is_refused() -> None:
    with pytest.raises(AddressUnusable):
        open_store(URL.create("mysql", host="example.org").render_as_string())


def test_run_tries_once_more_when_another_transaction_was_in_the_way(postgresql_database_url: str) -> None:
    store = open_store(postgresql_database_url)
    both_looked = threading.Barrier(2)
    tries = []

    def add_unless_there(session: Session) -> None:
        there = session.scalars(select(casks.c.id)).first()
        tries.append(there)
        if len(tries) <= 2:
            both_looked.wait(timeout=10)
        if there is None:
            session.execute(insert(casks).values(CASK))

    threads = [threading.Thread(target=run, args=(store, add_unless_there)) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert _codes(store) == ["C1"]
    assert len(tries) == 3
    store.close()


def test_run_does_not_repeat_what_cannot_be_cured(store: Store, now: datetime) -> None:
    tries = []

    def fail(session: Session) -> None:
        tries.append(1)
        session.execute(insert(site_mark).values(site_key=None, made_at=now))

    with pytest.raises(IntegrityError):
        run(store, fail)
    assert len(tries) == 1
