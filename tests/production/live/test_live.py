"""The providers together: on both databases, kept by what they read."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, CachedQuery, Figure, Provider, Registry, State, state
from kiosk.production.importing.previews import import_folder
from kiosk.production.live import PROVIDERS
from kiosk.production.live.casks import FILLING_DAYS
from kiosk.production.pictures.casks import CELLAR_LIFE
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from kiosk.store.tables.base import metadata
from kiosk.tasting import live as tasting_live
from kiosk.tours import day as tours_live

Take = Callable[..., ImportReport]


def test_after_an_import_a_warm_book_says_what_a_cold_one_says(
    take: Take, store: Store, site: Site, now: datetime
) -> None:
    warm = Registry(PROVIDERS)
    assert warm.reader(store.read, versions, site, now).get("casks_filled").value is None
    take()
    later = warm.reader(store.read, versions, site, now)
    cold = Registry(PROVIDERS).reader(store.read, versions, site, now)
    for name, spec in warm.specs.items():
        assert later.each(name) == cold.each(name), spec.name
    assert later.get("casks_filled").value == 1


def subjects_in(statement: str) -> set[str]:
    """Return the subjects of the tables of rows that a statement reads."""
    names = set(re.findall(r"\b(?:FROM|JOIN)\s+(\w+)", statement))
    read = [metadata.tables[name] for name in names if name in metadata.tables]
    return {table.info["subject"] for table in read if table.info["kind"] == "row"}


SOURCES = (*PROVIDERS, *tours_live.PROVIDERS, *tasting_live.PROVIDERS, CELLAR_LIFE, FILLING_DAYS)


@pytest.mark.parametrize("source", SOURCES, ids=lambda one: one.compute.__module__)
def test_what_is_kept_names_every_subject_that_it_reads(
    source: Provider | CachedQuery[object], take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    """Every public write to a table touches its subject, so a warm cache answers as a cold one does."""
    take_sqlite()
    asked: list[str] = []
    event.listen(sqlite_store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    with sqlite_store.read() as session:
        source.compute(session, site, now, *([""] if isinstance(source, Provider) else []))
    read = {subject for statement in asked for subject in subjects_in(statement)}
    assert asked
    # What is looked at every few seconds needs no version of what it counts.
    assert read <= source.reads or source.fresh_s <= 5


def gauge_again(session: Session, now: datetime) -> None:
    gauge = session.execute(select(t.gauges).order_by(t.gauges.c.at.desc())).first()
    assert gauge is not None
    less = {"alcohol_ml": gauge.alcohol_ml - 2000, "volume20_ml": gauge.volume20_ml - 3000}
    rows.change(session, t.gauges, gauge.id, gauge.revision, less, by=None, at=now, why="read again")


def read_the_still(session: Session, now: datetime) -> None:
    last = session.execute(select(t.run_readings).order_by(t.run_readings.c.at.desc())).first()
    assert last is not None
    again = {**last._mapping, "id": None, "revision": 1, "at": now, "source_key": None}
    del again["id"]
    rows.insert(session, t.run_readings, {**again, "collected_ml": last.collected_ml + 5000})


def mill_a_load(session: Session, now: datetime) -> None:
    prov = {"recorded_at": now, "source": "form"}
    sizes = {"cane_g": 3_000_000, "juice_ml": 1_700_000, "brix_e2": 1650}
    rows.insert_batch(
        session, t.loads, "load", "L-X", {"cut_on": now.date(), "milled_at": now, **sizes, **prov}
    )


def bottle_a_lot(session: Session, now: datetime) -> None:
    sizes = {"bottles": 20, "bottle_ml": 750, "abv_e2": 4000, "strength_basis": "distilled"}
    prov = {"recorded_at": now, "source": "form"}
    lot = rows.insert_batch(
        session, t.lots, "lot", "BL-X", {"product": "blanco", "bottled_on": now.date(), **sizes, **prov}
    )
    hearts = session.scalar(select(t.receivers.c.id).where(t.receivers.c.cut == "hearts"))
    drawn = {"from_id": hearts, "to_id": lot, "at": now, "measure": "alcohol_ml", "amount": 6000}
    rows.insert(session, t.draws, {**drawn, **prov})


def take_back_a_gauge(session: Session, now: datetime) -> None:
    gauge = session.execute(select(t.gauges).order_by(t.gauges.c.at.desc())).first()
    assert gauge is not None
    rows.void(session, t.gauges, gauge.id, gauge.revision, by=None, at=now, why="another cask's")


@pytest.mark.parametrize("write", [gauge_again, read_the_still, mill_a_load, bottle_a_lot, take_back_a_gauge])
def test_after_every_kind_of_write_a_warm_book_equals_a_cold_one(
    write: Callable[[Session, datetime], None], take: Take, store: Store, site: Site, now: datetime
) -> None:
    take()
    warm = Registry(PROVIDERS)
    before = everything(warm, store, site, now)
    with store.write() as session:
        write(session, now)
    after = everything(warm, store, site, now)
    assert after == everything(Registry(PROVIDERS), store, site, now)
    assert after != before


def everything(registry: Registry, store: Store, site: Site, now: datetime) -> dict[str, object]:
    """Return every figure at `now`."""
    figures = registry.reader(store.read, versions, site, now)
    return {name: figures.each(name) for name in registry.specs}


def test_every_figure_of_production_is_there() -> None:
    names = [spec.name for provider in PROVIDERS for spec in provider.specs]
    assert len(names) == len(set(names)) >= 44
    for subject in ("cane", "wash", "run", "hearts", "casks", "angels", "bottled", "a_bottle"):
        assert any(subject in name for name in names), subject


HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LASTING: list[tuple[timedelta, str]] = [
    (3650 * DAY, "cane_area"),
    (1 * DAY, "cane_milled_today juice_brix_today wash_day cane_standing bottled_today readings_today"),
    (60 * DAY, "cane_last_load cane_season loads_season juice_per_tonne_season"),
    (16 * HOUR, "wash_abv_now wash_gravity_now wash_ends_in tanks_at_work wash_fermenting"),
    (1 * HOUR, "run_abv_now run_proof_now run_cut_now run_collected_now"),
    (4 * HOUR, "hearts_volume_today hearts_abv_today hearts_alcohol_today"),
    (90 * DAY, "recovery_last_run hearts_gauge_less_readings"),
    (120 * DAY, "casks_filled casks_empty casks_by_store casks_by_wood cask_fills_mean cask_oldest"),
    (120 * DAY, "casks_filled_this_year casks_due_for_gauging spirit_maturing spirit_maturing_volume"),
    (120 * DAY, "spirit_maturing_abv angels_share_to_date angels_share_since_first angels_share_per_year"),
    (120 * DAY, "angels_share_by_store angels_bottles_to_date angels_bottle_every"),
    (120 * DAY, "cask_mean_now cask_mean_filling"),
    (120 * DAY, "bottled_this_year water_of_reduction_this_year water_share_this_year"),
    (400 * DAY, "cane_in_a_bottle juice_in_a_bottle casks_behind_a_bottle"),
]
"""How long each figure is said as of now: as long as its records follow each other in the house."""
WITH_ONE_DECIMAL = (
    "cane_area cane_last_load cask_mean_now cask_mean_filling "
    "cane_milled_today juice_brix_today wash_abv_now run_abv_now run_proof_now hearts_abv_today "
    "recovery_last_run hearts_gauge_less_readings cask_fills_mean cask_oldest spirit_maturing_abv "
    "angels_share_to_date angels_share_since_first angels_share_per_year angels_share_by_store "
    "angels_bottle_every cane_in_a_bottle juice_in_a_bottle"
)
OF_THE_DAY = (
    "cane_milled_today juice_brix_today hearts_volume_today hearts_abv_today hearts_alcohol_today "
    "bottled_today readings_today"
)
FOR_STAFF = {"hearts_gauge_less_readings", "casks_by_wood", "casks_due_for_gauging"}
EVERY_SPEC = {spec.name: spec for provider in PROVIDERS for spec in provider.specs}


def test_a_figure_is_of_now_as_long_as_its_records_follow_each_other(now: datetime) -> None:
    lasting = {name: span for span, names in LASTING for name in names.split()}
    assert lasting.keys() == EVERY_SPEC.keys()
    for name, span in lasting.items():
        seen = [Figure(1.0, now - age, Basis.COUNTED) for age in (span, span + timedelta(seconds=1))]
        states = [state(figure, EVERY_SPEC[name], now) for figure in seen]
        assert states == [State.FRESH, State.STALE], name


def test_decimals_days_and_readers_of_each_figure() -> None:
    every = EVERY_SPEC.values()
    assert {spec.name for spec in every if spec.digits == 1} == set(WITH_ONE_DECIMAL.split())
    assert {spec.name for spec in every if spec.digits > 1} == {"wash_gravity_now"}
    assert {spec.name for spec in every if spec.daily} == set(OF_THE_DAY.split())
    assert {spec.name for spec in every if not spec.public} == FOR_STAFF


def test_what_changes_by_the_minute_is_computed_again_sooner() -> None:
    again_s = {provider.compute.__name__: provider.fresh_s for provider in PROVIDERS}
    assert again_s == {
        "still_figures": 30,
        "cane_figures": 60,
        "fermentation_figures": 60,
        "laboratory_figures": 60,
        "recovery_figures": 600,
        "bottling_figures": 600,
        "bottle_figures": 3600,
        "cask_figures": 6 * 3600,
    }
    assert (FILLING_DAYS.fresh_s, CELLAR_LIFE.fresh_s) == (24 * 3600, 6 * 3600)


# Fills take four queries whatever the casks; the chain behind the newest lot takes six more.
MOST_QUERIES = 10


def test_a_provider_asks_a_fixed_number_of_queries(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    asked: list[str] = []
    event.listen(sqlite_store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))

    def counts() -> list[int]:
        found = []
        for provider in PROVIDERS:
            with sqlite_store.read() as session:
                session.connection()
                asked.clear()
                provider.compute(session, site, now, "")
                found.append(len(asked))
        return found

    take_sqlite()
    few = counts()
    with sqlite_store.write() as session:
        import_folder(session, site, shipped("demo_site") / "records", by=None, at=now)
    assert counts() == few
    assert max(few) <= MOST_QUERIES
