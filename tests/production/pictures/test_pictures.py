"""Pictures tell what the small folder of records holds, and nothing where it holds too little."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from kiosk.figures.casks import Measure, contents_now
from kiosk.production.lineage.fills import read_fills
from kiosk.production.pictures import casks, making
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from kiosk.words.catalogs import Words, load_words

Take = Callable[..., ImportReport]


@pytest.fixture(params=["en", "es"])
def words(request: pytest.FixtureRequest) -> Words:
    return load_words(shipped("locales"), request.param, {"en": "en_US", "es": "es_PR"}[request.param])


def test_a_run_shows_each_reading_once_and_the_cuts_meet(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, words: Words
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        found = making.latest_run(session, now)
    assert found is not None
    picture = making.run_so_far(found, now, site.zone, words)
    litres = [row[2].replace("\N{NO-BREAK SPACE}", " ") for row in picture.rows]
    assert litres == ["2.0 L", "6.0 L", "156.0 L", "256.0 L"]
    assert "SR-1" in picture.title
    assert "<polyline" in picture.svg()


def test_nothing_is_drawn_before_there_are_records(sqlite_store: Store, now: datetime, words: Words) -> None:
    with sqlite_store.read() as session:
        assert making.latest_run(session, now) is None
        assert making.fermentation(making.curves(session, now), words) is None
    assert casks.life_of([], now) is None


def test_a_wash_that_stands_is_a_curve_of_alcohol(
    take_sqlite: Take, sqlite_store: Store, now: datetime, words: Words
) -> None:
    take_sqlite(("washes.csv", "2026-06-05 07:00", ""), ("draws.csv", "wash,W-1,run", "wash,W-1,run"))
    with sqlite_store.read() as session:
        found = making.curves(session, now)
    picture = making.fermentation(found, words)
    assert picture is not None
    # From 1.0630 to 0.9960: 131.25 x the fall is about 8.8 % vol (common practice).
    assert found["T1"][-1][1] == pytest.approx(8.8, abs=0.3)
    assert len(picture.rows) == 2


def test_a_cask_shows_its_gauges_inside_the_band(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, words: Words
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        fills = list(read_fills(session).values())
    later = now + timedelta(days=90)
    fill = casks.life_of(fills, later)
    assert fill is not None
    volume, strength = casks.cask_life(fill, casks.fits(fills, later), later, site.zone, words)
    assert [len(volume.rows), len(strength.rows)] == [2, 2]
    assert volume.rows[0][1] == "160.0"


def test_a_store_holds_what_its_casks_hold(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, words: Words
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        fills = list(read_fills(session).values())
    later = now + timedelta(days=90)
    life = casks.cellar_life(fills, later)
    assert life is not None
    known = life.losses
    picture = casks.stores_drawn(life, site.zone, words)
    assert picture is not None
    alone = contents_now(fills[0], later, known.volume.rates, Measure.VOLUME, known.volume.soakages)
    assert {row[0] for row in picture.rows} == {"BAJA"}
    assert float(picture.rows[-1][2]) == pytest.approx(alone.amount_l, abs=0.5)
    assert casks.cellar_life([], later) is None
