"""The steps from sugar to bottle hold what the records say, the losses charged to what was kept."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import select

from kiosk.production.lineage.chain import read_upstream
from kiosk.production.lineage.provenance import proportions
from kiosk.production.records.recording import ImportReport
from kiosk.store.engine import Store
from kiosk.store.tables import production as t

Take = Callable[..., ImportReport]


def test_a_lot_bears_its_part_of_each_step(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        lot = int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)
        found = read_upstream(session, lot)
        hearts_ml = session.scalar(select(t.receivers.c.alcohol_ml).where(t.receivers.c.cut == "hearts"))
        told = proportions(found)
    assert told is not None
    assert hearts_ml
    # By hand: 11.5 L of the hearts gauged, which are 108 L of the 136.9 L that the run gave.
    part = 11.5 / max(hearts_ml / 1000, 107.5) * 108 / 136.9
    assert told.cane_kg == pytest.approx(3000 * part, rel=1e-6)
    assert told.possible == pytest.approx(289 * 0.682 * part, rel=1e-6)
    assert told.fermented == pytest.approx(148 * part, rel=1e-6)
    assert (told.hearts, told.bought, told.bottled) == pytest.approx((11.5, 0.0, 11.5))


def test_nothing_is_told_where_a_step_is_not_recorded(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite(("draws.csv", "load,L-1,wash,W-1,2026-06-01 10:00,,289,,1700\n", ""))
    with sqlite_store.read() as session:
        lot = int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)
        assert proportions(read_upstream(session, lot)) is None
