"""The demo's bar has stock, an open bottle of every product, and levels that its weights tell."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.store.engine import open_store
from kiosk.tasting.bottles.shelf import shelf
from kiosk.tasting.bottles.stock import sealed
from tests.actors import CHEAP


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, datetime]:
    """A demo as of one afternoon."""
    folder, now = tmp_path_factory.mktemp("bar") / "site", datetime(2026, 6, 16, 19, tzinfo=UTC)
    made = prepare_demo(folder, now, lambda _line: None, hasher=CHEAP)
    return folder, made.database, now


def test_every_bottle_of_the_demo_is_weighed_and_believed(prepared: tuple[Path, str, datetime]) -> None:
    folder, database, now = prepared
    site, store = load_site(folder, database=database), open_store(database)
    with store.read() as session:
        bottles = shelf(session, site, site.rooms[0])
        stock = sealed(session, site.rooms[0], now)
    store.close()
    assert {bottle.product for bottle in bottles} >= {"blanco", "anejo", "reserva", "jengibre"}
    for bottle in bottles:
        told = bottle.account()
        assert bottle.density_g_ml is not None
        assert told.weighed is not None
        assert not told.findings
        assert told.tare_g is not None
        assert 400 < told.tare_g < 700
        assert 200_000 < told.level_ul < 750_000
    assert all(one.bottles > 0 for one in stock.values())
    assert len(stock) == len(bottles)
