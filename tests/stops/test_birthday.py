"""Whether a cask was filled on a birthday."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from kiosk.store import rows
from kiosk.store.tables import production as t
from tests.actors import Screen, hire
from tests.walking import Walk


@pytest.fixture
def guide(walk: Walk) -> Screen:
    """A guide's tablet in a house that filled a cask on 14 June 2024, late in the evening there."""
    filled_at = datetime(2024, 6, 15, 3, 0, tzinfo=UTC)
    prov = {"recorded_at": walk.clock.at, "source": "test"}
    with walk.store.write() as session:
        store = rows.insert(session, t.stores, {"code": "BAJA", "name": "Lower"})
        cask = rows.insert(session, t.casks, {"code": "C-1", "wood": "oak", "capacity_ml": 200_000})
        values = {"cask_id": cask, "store_id": store, "filled_at": filled_at, "emptied_at": None}
        rows.insert_batch(session, t.fills, "fill", "F-1", {**values, **prov})
    somebody = hire(walk.store, walk.site, walk.clock.at)
    screen = walk.screen()
    screen.enrol(walk.store, walk.site, walk.clock.at)
    screen.sign_in(somebody)
    return screen


def test_a_cask_filled_on_a_birthday_is_told_with_its_year(guide: Screen) -> None:
    page = guide.get("/staff/stops/cask-store?day=14&month=6&language=en").text
    assert "1 cask was filled on June 14: 2024." in page


def test_a_birthday_without_a_cask_says_so(guide: Screen) -> None:
    assert "No cask was filled on June 15." in guide.get("/staff/stops/cask-store?day=15&month=6").text


def test_29_february_is_a_day_and_the_30th_is_none(guide: Screen) -> None:
    assert "No cask was filled on February 29." in guide.get("/staff/stops/cask-store?day=29&month=2").text
    for day, month in ((30, 2), (0, 6), (14, 13), (2**63, 1)):
        page = guide.get(f"/staff/stops/cask-store?day={day}&month={month}").text
        assert "There is no such day in the year." in page


def test_only_the_cask_store_asks_and_nothing_is_answered_unasked(guide: Screen) -> None:
    assert 'name="month"' not in guide.get("/staff/stops/still-house").text
    page = guide.get("/staff/stops/cask-store").text
    assert 'name="month"' in page
    assert 'role="status"' not in page


def test_what_was_asked_is_kept_nowhere(guide: Screen, walk: Walk) -> None:
    before = {one.name: count(walk, one) for one in t.metadata.sorted_tables}
    guide.get("/staff/stops/cask-store?day=14&month=6")
    assert {one.name: count(walk, one) for one in t.metadata.sorted_tables} == before


def count(walk: Walk, table: object) -> int:
    with walk.store.read() as session:
        return session.query(table).count()
