"""Each committed change of a subject is counted once, however many write at a time."""

from __future__ import annotations

import threading

import pytest

from kiosk.store import rows
from kiosk.store.changes import touch, versions
from kiosk.store.engine import Store
from kiosk.store.tables.production import casks, vessels

THREADS, ROUNDS = 8, 12


def _versions(store: Store) -> dict[str, int]:
    with store.read() as session:
        return versions(session)


def test_a_transaction_counts_each_subject_once(store: Store) -> None:
    with store.write() as session:
        touch(session, "tours", "guests", "tours")
        touch(session, "tours")
    assert _versions(store) == {"tours": 1, "guests": 1}


def test_recording_a_row_counts_a_change_of_its_subject(store: Store) -> None:
    with store.write() as session:
        rows.insert(session, casks, {"code": "C1", "wood": "oak", "capacity_ml": 1})
        rows.insert_many(session, vessels, [{"code": "T1", "kind": "tank", "capacity_ml": 1}])
    assert _versions(store) == {"casks": 1, "vessels": 1}


def test_what_is_rolled_back_is_not_counted(store: Store) -> None:
    def touch_and_fail() -> None:
        with store.write() as session:
            touch(session, "tours")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        touch_and_fail()
    assert _versions(store) == {}


def test_a_reader_sees_rows_and_their_count_together(store: Store) -> None:
    with store.write() as session:
        touch(session, "tours")
        other = threading.Thread(target=lambda: seen.append(_versions(store)))
        seen: list[dict[str, int]] = []
        other.start()
        other.join(timeout=10)
    assert seen == [{}]
    assert _versions(store) == {"tours": 1}


def test_no_change_is_lost_between_concurrent_writers(store: Store) -> None:
    """Each writer names the subjects in another order: a careless lock order would cross."""
    failed: list[Exception] = []

    def write(n: int) -> None:
        try:
            for _ in range(ROUNDS):
                with store.write() as session:
                    for subject in ("casks", "tours", "guests")[:: 1 if n % 2 else -1]:
                        touch(session, subject)
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert failed == []
    assert _versions(store) == dict.fromkeys(("casks", "tours", "guests"), THREADS * ROUNDS)
