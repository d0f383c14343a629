"""What stands behind a lot is read by as many queries at any depth."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from sqlalchemy import event, insert, select

from kiosk.production.importing.report import ImportReport
from kiosk.production.lineage.behind import behind
from kiosk.production.lineage.upstream import read_edges, read_upstream
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t

Take = Callable[..., ImportReport]


def lot_id(store: Store) -> int:
    with store.read() as session:
        return int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)


def deeper(store: Store, batch: int, by: int, now: datetime) -> int:
    """Draw a batch through as many more vats, one after another, and return the last."""
    with store.write() as session:
        for step in range(by):
            new = session.execute(insert(t.batches).values(kind="blend", code=f"V-{step}"))
            following = new.inserted_primary_key[0]
            vat = {"id": following, "made_at": now, "volume_ml": 30_000, "alcohol_ml": 11_500}
            session.execute(insert(t.blends).values(**vat, recorded_at=now, source="test", revision=1))
            drawn = {
                "from_id": batch,
                "to_id": following,
                "at": now,
                "measure": "alcohol_ml",
                "amount": 11_500,
            }
            session.execute(insert(t.draws).values(**drawn, recorded_at=now, source="test", revision=1))
            batch = following
    return batch


def counted(store: Store, batch: int) -> tuple[int, int]:
    """Return how many queries were asked for what stands behind a batch, and how many draws came."""
    asked: list[str] = []
    with store.read() as session:
        engine = session.get_bind().engine

        def note(connection: object, cursor: object, statement: str, *more: object) -> None:
            asked.append(statement)

        event.listen(engine, "before_cursor_execute", note)
        try:
            found = read_upstream(session, batch)
        finally:
            event.remove(engine, "before_cursor_execute", note)
    return len([one for one in asked if one.lstrip().startswith(("SELECT", "WITH"))]), len(found.edges)


def test_as_many_queries_are_asked_of_a_deep_lot_as_of_a_shallow_one(
    take: Take, store: Store, now: datetime
) -> None:
    take()
    shallow = lot_id(store)
    few, drawn = counted(store, shallow)
    deep, more_drawn = counted(store, deeper(store, shallow, 30, now))
    assert more_drawn == drawn + 30
    assert deep == few == 10


def test_draws_towards_other_batches_are_left_aside(take: Take, store: Store) -> None:
    take()
    with store.read() as session:
        fill = session.scalar(select(t.fills.c.id))
        edges = read_edges(session, lot_id(store))
    assert len(edges) == 7
    assert fill not in {one for edge in edges for one in (edge.from_id, edge.to_id)}


def test_a_loop_in_the_draws_ends_the_reading(take_sqlite: Take, sqlite_store: Store, now: datetime) -> None:
    take_sqlite()
    batch = lot_id(sqlite_store)
    last = deeper(sqlite_store, batch, 3, now)
    with sqlite_store.write() as session:
        drawn = {"from_id": last, "to_id": batch, "at": now, "measure": "alcohol_ml", "amount": 1}
        session.execute(insert(t.draws).values(**drawn, recorded_at=now, source="test", revision=1))
    with sqlite_store.read() as session:
        assert len(read_edges(session, batch)) == 11


@pytest.mark.parametrize(
    ("kind", "codes"), [("field", ["HILL"]), ("load", ["L-1"]), ("run", ["WR-1", "SR-1"]), ("fill", [])]
)
def test_the_whole_of_a_lot_passed_through_each_step(
    take_sqlite: Take, sqlite_store: Store, site: Site, kind: str, codes: list[str]
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        found = behind(read_upstream(session, lot_id(sqlite_store)), site.zone)
    assert [part.code for part in found.of(kind)] == codes
    assert all(part.share == pytest.approx(1.0) for part in found.of(kind))
    assert found.age.years == 0
