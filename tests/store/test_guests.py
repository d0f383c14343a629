"""Whatever decides about a guest holds that guest's row: the last place goes to one."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.store import rows
from kiosk.store.engine import Store, open_store, run
from kiosk.store.errors import NoSuchRow
from kiosk.store.guests import lock_guest, lock_guests
from kiosk.store.ledgers import append, new_key
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import guests, parties, tours

CLIENTS, ROUNDS = 16, 20
LIMIT_UL, POUR_UL = 44_360, 14_786  # three half-ounce pours make 1.5 US fl oz


def _tour_with_guests(session: Session, now: datetime, count: int) -> tuple[int, list[int]]:
    tour = {"letter": "A", "starts_at": now, "route": "short", "languages": ["en"], "room": "main"}
    tour_id = rows.insert(session, tours, {**tour, "places": count, "private": False})
    party_id = rows.insert(session, parties, {"tour_id": tour_id, "size": count, "language": "en"})
    seat = {"party_id": party_id, "tour_id": tour_id, "day": now.date(), "language": "en", "link_no": 1}
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
        tour_id, guest_ids = _tour_with_guests(session, now, ROUNDS)
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
    assert [sum(by_guest) for by_guest in zip(*answers, strict=True)] == [1] * ROUNDS
    # What was acknowledged is what a second connection finds.
    with store.read() as session:
        stands = session.execute(select(func.count()).select_from(pours).group_by(pours.c.guest_id))
        assert [count for (count,) in stands] == [3] * ROUNDS
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
