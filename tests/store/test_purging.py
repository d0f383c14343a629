"""Whose personal values end when, and that no column is forgotten."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import null, select

from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.purging import BATCH, purge_guests, purge_parties
from kiosk.store.tables import metadata
from kiosk.store.tables.tours import guests, parties, tours

DAY = date(2026, 6, 16)
KEPT = {
    "staff": "people who work here: their names stand behind what they signed",
    "permits": "of people who work here",
    "visitors": "the register of who is on the site has a retention of its own",
    "held": "reduced, not emptied: kiosk.tasting.forgetting",
}
"""Tables with personal columns that are not the guests', and why they stay."""


def idle() -> None:
    """Rest without waiting."""


def _party(store: Store, now: datetime, **changes: object) -> int:
    with store.write() as session:
        tour = {"letter": "A", "starts_at": now, "route": "short", "languages": ["en"], "room": "main"}
        tour_id = rows.insert(session, tours, {**tour, "places": 8, "private": False})
        party = {"tour_id": tour_id, "size": 1, "language": "en", "lead_name": "Perpetua", **changes}
        return rows.insert(session, parties, party)


def _guests(store: Store, now: datetime, day: date, n: int = 1, **changes: object) -> None:
    party_id = _party(store, now)
    with store.write() as session:
        tour_id = session.scalar(select(parties.c.tour_id).where(parties.c.id == party_id))
        one = {"party_id": party_id, "tour_id": tour_id, "day": day, "language": "en", "link_no": 0}
        rows.insert_many(session, guests, [{**one, **changes, "number": number} for number in range(n)])


def _named(store: Store) -> int:
    with store.read() as session:
        return len(session.scalars(select(parties.c.id).where(parties.c.lead_name.is_not(None))).all())


def test_every_personal_column_is_emptied_or_kept_for_a_reason() -> None:
    personal = {t.name for t in metadata.tables.values() if any(c.info.get("personal") for c in t.columns)}
    assert personal == {"guests", "parties", *KEPT}


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
    assert purge_parties(store, now - timedelta(days=30), idle) == 2
    assert _named(store) == 2
    assert purge_parties(store, now - timedelta(days=30), idle) == 0
