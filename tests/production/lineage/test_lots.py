"""Bottlings are read as they are recorded, and cane is told only of the lot it was reckoned for."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from kiosk.production.lineage.lots import cane_in_bottle, find_lot, lots_of
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.production import lots
from tests.tasting_room import tasting_site
from tests.walking import Walk


def bottle(store: Store, now, code: str = "L-7", **changes: object) -> None:
    values = {
        "product": "anejo",
        "bottled_on": date(2026, 5, 4),
        "bottles": 1200,
        "bottle_ml": 750,
        "abv_e2": 4200,
        "strength_basis": "distilled",
        "recorded_at": now,
        "source": "test",
        **changes,
    }
    with store.write() as session:
        rows.insert_batch(session, lots, "lot", code, values)


def test_a_lot_is_found_by_its_code(store: Store, now, tmp_path: Path) -> None:
    bottle(store, now)
    with store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert (lot.product_id, lot.bottled_on, lot.bottles, lot.bottle_ml) == (
        "anejo",
        date(2026, 5, 4),
        1200,
        750,
    )
    assert (lot.abv_percent, lot.at_most) == (42.0, False)


def test_an_unknown_code_has_no_lot(store: Store, tmp_path: Path) -> None:
    with store.read() as session:
        assert find_lot(session, tasting_site(tmp_path), "L-8") is None


def test_a_strength_that_is_not_known_is_told_as_at_most(sqlite_store: Store, now, tmp_path: Path) -> None:
    bottle(sqlite_store, now, strength_basis="not_known")
    with sqlite_store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert lot.at_most


def test_a_lot_of_a_product_no_longer_listed_keeps_its_page(sqlite_store: Store, now, tmp_path: Path) -> None:
    bottle(sqlite_store, now, product="discontinued")
    with sqlite_store.read() as session:
        lot = find_lot(session, tasting_site(tmp_path), "L-7")
    assert lot is not None
    assert lot.product is None


@pytest.mark.parametrize(
    ("value", "rests_on", "shown"), [(6.2, "this", True), (6.2, "other", False), (None, "", False)]
)
def test_cane_is_told_only_of_the_lot_that_it_was_worked_out_for(
    walk: Walk, now, value: float | None, rests_on: str, shown: bool
) -> None:
    bottle(walk.store, now)
    with walk.store.read() as session:
        lot = find_lot(session, walk.site, "L-7")
    assert lot is not None
    if value is not None:
        walk.told(
            "cane_in_a_bottle", value, rests_on=(f"lot:{lot.id if rests_on == 'this' else lot.id + 1}",)
        )
    told = cane_in_bottle(walk.reader(), lot)
    assert (told is not None) is shown


def test_lots_are_found_on_each_database(store: Store, now: object, tmp_path: Path) -> None:
    bottle(store, now, "L-1", bottled_on=date(2025, 3, 1))
    bottle(store, now, "L-2", bottled_on=date(2026, 3, 1))
    with store.read() as session:
        found = lots_of(session, tasting_site(tmp_path), "anejo")
    assert [lot.code for lot in found] == ["L-2", "L-1"]
