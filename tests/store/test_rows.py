"""Each committed change of a subject is counted once, however many write at a time.

A row's former self is never lost, and a change made on old knowledge changes nothing.

Whatever decides about a guest holds that guest's row: the last place goes to one.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import pytest
from sqlalchemy import Table, func, inspect, null, select
from sqlalchemy import insert as insert_into
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from kiosk.store import rows
from kiosk.store.engine import Store, open_store, run
from kiosk.store.errors import InUse, NoSuchRow, Stale
from kiosk.store.ledgers import append, new_key
from kiosk.store.rows import lock_guest, lock_guests, touch, versions
from kiosk.store.tables import metadata
from kiosk.store.tables.production import batches, blends, casks, draws, held, vessels
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, guests, marks, tours, visitors

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


CASK = {"code": "C1", "wood": "oak", "capacity_ml": 200_000}
CANARY = "Perpetua Canary"


def _blend(now: datetime) -> dict[str, object]:
    made = {"made_at": now, "volume_ml": 1000, "alcohol_ml": 400}
    return {**made, "recorded_at": now, "source": "form"}


def _staff(store: Store, name: str) -> int:
    with store.write() as session:
        return rows.insert(session, staff, {"name": name, "pin_hash": "x", "languages": ["en"]})


def _all(store: Store, table: Table) -> list[dict[str, object]]:
    with store.read() as session:
        return [dict(row) for row in session.execute(select(table)).mappings()]


def test_a_row_begins_with_revision_one(store: Store) -> None:
    with store.write() as session:
        cask_id = rows.insert(session, casks, CASK)
    assert _all(store, casks) == [{"id": cask_id, "revision": 1, "tare_g": None, **CASK}]


def test_many_rows_may_each_leave_out_other_columns(store: Store) -> None:
    with store.write() as session:
        rows.insert_many(session, casks, [{**CASK, "tare_g": 40_000}, {**CASK, "code": "C2"}])
        rows.insert_many(session, casks, [])
    assert [row["tare_g"] for row in _all(store, casks)] == [40_000, None]


def test_a_change_counts_the_revision_and_keeps_the_former_self(store: Store, now: datetime) -> None:
    ana = _staff(store, "Ana")
    with store.write() as session:
        cask_id = rows.insert(session, casks, CASK)
        assert rows.change(session, casks, cask_id, 1, {"wood": "cherry"}, by=ana, at=now, why="misread") == 2
    assert [(row["wood"], row["revision"]) for row in _all(store, casks)] == [("cherry", 2)]
    (kept,) = _all(store, history)
    assert kept["before"] == {"id": cask_id, "revision": 1, "tare_g": None, **CASK}
    assert (kept["table_name"], kept["row_id"], kept["revision"]) == ("casks", cask_id, 1)
    assert (kept["act"], kept["by"], kept["at"], kept["why"]) == ("changed", ana, now, "misread")


def test_a_withdrawn_row_lives_on_in_the_history_and_its_id_is_not_given_again(
    store: Store, now: datetime
) -> None:
    with store.write() as session:
        cask_id = rows.insert(session, casks, CASK)
        rows.void(session, casks, cask_id, 1, by=None, at=now, why="never here")
        assert rows.insert(session, casks, CASK) != cask_id
    (kept,) = _all(store, history)
    assert (kept["act"], kept["row_id"]) == ("voided", cask_id)


def test_times_and_dates_are_kept_as_text(store: Store, now: datetime) -> None:
    with store.write() as session:
        blend_id = rows.insert_batch(session, blends, "blend", "B1", _blend(now))
        rows.change(session, blends, blend_id, 1, {"volume_ml": 900}, by=None, at=now)
    (kept,) = _all(store, history)
    assert kept["before"]["made_at"] == now.isoformat()


def test_a_batch_and_its_row_share_one_id_and_leave_together(store: Store, now: datetime) -> None:
    with store.write() as session:
        blend_id = rows.insert_batch(session, blends, "blend", "B1", _blend(now))
    assert _all(store, batches) == [{"id": blend_id, "kind": "blend", "code": "B1"}]
    assert _all(store, blends)[0]["id"] == blend_id
    with store.write() as session:
        rows.void(session, blends, blend_id, 1, by=None, at=now)
    assert _all(store, batches) == _all(store, blends) == []


def test_a_row_that_others_refer_to_cannot_be_withdrawn(store: Store, now: datetime) -> None:
    with store.write() as session:
        first, second = (rows.insert_batch(session, blends, "blend", c, _blend(now)) for c in ("B1", "B2"))
        drawn = {"from_id": first, "to_id": second, "at": now, "measure": "alcohol_ml", "amount": 4}
        rows.insert(session, draws, {**drawn, "recorded_at": now, "source": "form"})
    with pytest.raises(InUse), store.write() as session:
        rows.void(session, blends, first, 1, by=None, at=now)
    assert len(_all(store, blends)) == len(_all(store, batches)) == 2
    assert _all(store, history) == []


def test_a_stale_revision_changes_nothing_and_says_who_was_first(store: Store, now: datetime) -> None:
    ana, ben = _staff(store, "Ana"), _staff(store, "Ben")
    later = now + timedelta(minutes=5)
    with store.write() as session:
        cask_id = rows.insert(session, casks, CASK)
        rows.change(session, casks, cask_id, 1, {"wood": "cherry"}, by=ana, at=now)
        rows.change(session, casks, cask_id, 2, {"wood": "ash"}, by=ben, at=later)
    before = versions_of(store)
    with pytest.raises(Stale) as told, store.write() as session:
        rows.change(session, casks, cask_id, 1, {"wood": "fir"}, by=ben, at=later)
    assert (told.value.by, told.value.at) == (ana, now)
    assert told.value.status == 409
    assert _all(store, casks)[0]["wood"] == "ash"
    assert len(_all(store, history)) == 2
    assert versions_of(store) == before


def test_a_row_withdrawn_meanwhile_is_stale_too(store: Store, now: datetime) -> None:
    ana = _staff(store, "Ana")
    with store.write() as session:
        cask_id = rows.insert(session, casks, CASK)
        rows.void(session, casks, cask_id, 1, by=ana, at=now)
    with pytest.raises(Stale) as told, store.write() as session:
        rows.change(session, casks, cask_id, 1, {"wood": "fir"}, by=None, at=now)
    assert told.value.by == ana


def test_a_row_that_never_was_is_not_called_stale(store: Store, now: datetime) -> None:
    with pytest.raises(NoSuchRow), store.write() as session:
        rows.change(session, casks, 7, 1, {"wood": "fir"}, by=None, at=now)


def test_history_holds_no_personal_value(store: Store, now: datetime) -> None:
    """Every personal column of every table of rows gets a canary; none may sing in the history."""
    with store.write() as session:
        ids = _with_canaries(session, now)
        for table, row_id in ids.items():
            rows.change(session, table, row_id, 1, {}, by=ids[staff], at=now)
        rows.void(session, guests, ids[guests], 2, by=None, at=now)
    kept = _all(store, history)
    assert {row["table_name"] for row in kept} == _tables_with_personal_columns()
    assert "Canary" not in repr(kept)


def _tables_with_personal_columns() -> set[str]:
    return {t.name for t in metadata.tables.values() if any(c.info.get("personal") for c in t.columns)}


def _with_canaries(session, now: datetime) -> dict[Table, int]:
    person = {"name": CANARY, "pin_hash": CANARY, "languages": ["en"]}
    staff_id = rows.insert(session, staff, person)
    tour = {"letter": "A", "starts_at": now, "route": "short", "languages": ["en"], "room": "main"}
    tour_id = rows.insert(session, tours, {**tour, "places": 8, "private": False})
    party = {"tour_id": tour_id, "size": 1, "language": "en"}
    called = {"lead_name": CANARY, "contact": CANARY, "notes": CANARY}
    booking_id = rows.insert(session, bookings, {**party, **called})
    guest = {"booking_id": booking_id, "tour_id": tour_id, "day": now.date(), "number": 1, "language": "en"}
    called = {"first_name": CANARY, "allergens": [CANARY], "access_needs": CANARY, "link_no": 1}
    found = {staff: staff_id, bookings: booking_id, guests: rows.insert(session, guests, {**guest, **called})}
    permit = {"staff_id": staff_id, "kind": "server", "number": CANARY}
    permits = metadata.tables["permits"]
    found[permits] = rows.insert(
        session, permits, {**permit, "valid_from": now.date(), "valid_until": now.date()}
    )
    visitor = {"name": CANARY, "host": CANARY, "place": "office", "in_at": now}
    found[visitors] = rows.insert(session, visitors, visitor)
    waiting = {"kind": "", "payload": {"note": CANARY}, "reasons": [], "at": now}
    found[held] = rows.insert(session, held, waiting)
    return found


def test_an_emptied_value_is_empty_in_the_database(store: Store, now: datetime) -> None:
    """A JSON column keeps a null of its own unless told otherwise, and then is not seen as empty."""
    with store.write() as session:
        guest_id = _with_canaries(session, now)[guests]
        rows.change(session, guests, guest_id, 1, {"allergens": None}, by=None, at=now)
    with store.read() as session:
        empty = select(guests.c.id).where(guests.c.allergens.is_(null()))
        assert session.scalars(empty).all() == [guest_id]


def test_ledgers_and_plain_tables_are_not_changed_as_rows(store: Store, now: datetime) -> None:
    for table in (marks, batches):
        with pytest.raises(TypeError), store.write() as session:
            rows.insert(session, table, {})


def test_no_reference_cascades(store: Store) -> None:
    """A removed parent must never take records with it, on the database itself."""
    inspector = inspect(store.engine)
    for table in metadata.tables:
        for key in inspector.get_foreign_keys(table):
            assert key["options"].get("ondelete", "RESTRICT") in {"RESTRICT", "NO ACTION"}, (table, key)


def test_a_guest_of_whom_anything_is_recorded_cannot_be_removed(store: Store, now: datetime) -> None:
    with store.write() as session:
        guest_id = _with_canaries(session, now)[guests]
        entry = {"key": "0" * 32, "at": now, "recorded_at": now, "guest_id": guest_id, "kind": "gone"}
        session.execute(insert_into(marks).values(entry))
    with pytest.raises(IntegrityError), store.write() as session:
        session.execute(guests.delete())


def versions_of(store: Store) -> dict[str, int]:
    """Return the versions as another connection sees them."""
    with store.read() as session:
        return versions(session)


CLIENTS, ROUNDS_GUESTS = 16, 20
LIMIT_UL, POUR_UL = 44_360, 14_786  # three half-ounce pours make 1.5 US fl oz


def _tour_with_guests(session: Session, now: datetime, count: int) -> tuple[int, list[int]]:
    tour = {"letter": "A", "starts_at": now, "route": "short", "languages": ["en"], "room": "main"}
    tour_id = rows.insert(session, tours, {**tour, "places": count, "private": False})
    booking_id = rows.insert(session, bookings, {"tour_id": tour_id, "size": count, "language": "en"})
    seat = {"booking_id": booking_id, "tour_id": tour_id, "day": now.date(), "language": "en", "link_no": 1}
    numbered = [{**seat, "number": n} for n in range(1, count + 1)]
    return tour_id, [rows.insert(session, guests, one) for one in numbered]


def _pour(guest_id: int, tour_id: int, now: datetime) -> dict[str, object]:
    served = {"guest_id": guest_id, "tour_id": tour_id, "product": "p", "volume_ul": POUR_UL}
    how = {"abv_e2": 4000, "neat": True, "asked": True, "server_checked": True, "clock_ms": 0}
    return {"key": new_key(), "at": now, "recorded_at": now, "policy_key": "0" * 32, **served, **how}


def _ask(guest_id: int, tour_id: int, now: datetime) -> Callable[[Session], bool]:
    def work(session: Session) -> bool:
        lock_guest(session, guest_id)
        had = select(func.coalesce(func.sum(pours.c.volume_ul), 0)).where(pours.c.guest_id == guest_id)
        if session.scalars(had).one() + POUR_UL > LIMIT_UL:
            return False
        append(session, pours, _pour(guest_id, tour_id, now))
        return True

    return work


@pytest.mark.faults
def test_of_sixteen_who_ask_for_the_last_place_one_gets_it(
    store: Store, database_url: str, now: datetime
) -> None:
    """The clients share out two stores, as two processes would: no lock of one process is enough."""
    second = open_store(database_url)
    with store.write() as session:
        tour_id, guest_ids = _tour_with_guests(session, now, ROUNDS_GUESTS)
        for guest_id in guest_ids * 2:
            append(session, pours, _pour(guest_id, tour_id, now))
    ready = threading.Barrier(CLIENTS)

    def client(n: int) -> list[bool]:
        granted = []
        for guest_id in guest_ids:
            ready.wait(timeout=60)
            granted.append(run((store, second)[n % 2], _ask(guest_id, tour_id, now)))
        return granted

    with ThreadPoolExecutor(CLIENTS) as clients:
        answers = list(clients.map(client, range(CLIENTS)))
    assert [sum(by_guest) for by_guest in zip(*answers, strict=True)] == [1] * ROUNDS_GUESTS
    # What was acknowledged is what a second connection finds.
    with store.read() as session:
        stands = session.execute(select(func.count()).select_from(pours).group_by(pours.c.guest_id))
        assert [count for (count,) in stands] == [3] * ROUNDS_GUESTS
    second.close()


def test_an_unknown_guest_is_said_to_be_unknown(store: Store, now: datetime) -> None:
    with store.write() as session:
        _tour, (guest_id,) = _tour_with_guests(session, now, 1)
    with pytest.raises(NoSuchRow), store.write() as session:
        lock_guests(session, [guest_id, guest_id + 1])


def test_a_locked_guest_is_handed_back(store: Store, now: datetime) -> None:
    with store.write() as session:
        _tour, guest_ids = _tour_with_guests(session, now, 3)
        assert lock_guest(session, guest_ids[1])["number"] == 2
        assert list(lock_guests(session, reversed(guest_ids))) == guest_ids
