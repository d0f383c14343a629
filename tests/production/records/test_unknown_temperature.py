"""A temperature that was not read stays unknown: nothing is corrected, and figures and pages say so."""

from __future__ import annotations

import pytest
from flask import Flask
from sqlalchemy import select

from kiosk.figures.figure import Basis
from kiosk.figures.strength import reading_abv_percent
from kiosk.production.lineage.fills import read_fills
from kiosk.production.live.still import RUN_ABV, STILL_PROVIDER
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.migrate import downgrade, upgrade
from kiosk.store.tables import production as t
from tests.actors import hire, signed_in
from tests.databases import NOW
from tests.production.conftest import Enter, Take
from tests.production.live.conftest import MORNING, Books, hours

GAUGE = "F-1,2026-06-12 10:00,weight,,,187.5,density_meter,60,28"
READ = "F-1,2026-06-12 10:00,dip,157,,,glass_abv20,60,"


def test_a_scale_at_its_own_temperature_needs_no_correction() -> None:
    for scale, own_c in (("glass_abv20", 20.0), ("glass_abv15", 15.0), ("glass_proof60", 140 / 9)):
        reading = 120.0 if scale == "glass_proof60" else 60.0
        assert reading_abv_percent(scale, reading, None) == pytest.approx(
            reading_abv_percent(scale, reading, own_c)
        )


def test_a_gauge_without_a_temperature_stands_as_read_and_is_less_certain(
    take_sqlite: Take, sqlite_store: Store
) -> None:
    report = take_sqlite(("gauges.csv", GAUGE, READ))
    assert (report.held, report.faults) == ((), ())
    with sqlite_store.read() as session:
        row = session.execute(select(t.gauges).order_by(t.gauges.c.at.desc())).mappings().first()
        (fill,) = read_fills(session).values()
    assert (row["temperature_mc"], row["volume20_ml"], row["alcohol_ml"]) == (None, 157_000, 94_200)
    known, unknown = (gauge.relative_uncertainty for gauge in fill.gauges)
    # 3 % vol of 60 and 0.8 % of the volume, beside what a dipstick and a hydrometer leave open.
    assert unknown == pytest.approx(0.0515, abs=0.0005)
    assert known < 0.008


def test_a_form_takes_a_reading_without_its_temperature(fill_in: Enter, store: Store) -> None:
    cells = {"cask": "C-1", "at": "2026-06-15 09:00", "instrument": "glass_abv20", "reading": "60"}
    (row_id,) = fill_in(
        "regauge-volume", volume_l="157", volume_temperature_c="", temperature_c="", **cells
    ).ids
    with store.read() as session:
        row = session.execute(select(t.gauges).where(t.gauges.c.id == row_id)).mappings().one()
    assert (row["volume_temperature_mc"], row["temperature_mc"], row["alcohol_ml"]) == (None, None, 94_200)


def test_the_page_of_a_record_marks_what_is_not_known(
    app: Flask, take_sqlite: Take, sqlite_store: Store, site: Site
) -> None:
    take_sqlite(("gauges.csv", GAUGE, READ))
    hire(sqlite_store, site, NOW, "First", ("manager",))
    screen = signed_in(app, sqlite_store, site, NOW, "production", "Ana")
    assert screen.get("/staff/records/gauges/2").text.count("not known; taken as it was read") == 2
    assert "not known; taken as it was read" not in screen.get("/staff/records/gauges/1").text


def test_the_strength_at_the_parrot_is_then_an_estimate(books: Books) -> None:
    run = books.run("SR-1", MORNING)
    books.parrot(run, MORNING + hours(1), "hearts", 60, 76)
    assert books.figure(STILL_PROVIDER, RUN_ABV.name).basis is Basis.MEASURED
    read = {"scale": "glass_abv20", "reading_e2": 7600, "temperature_mc": None, "collected_ml": 70_000}
    books.row(t.run_readings, run_id=run, at=MORNING + hours(1.5), cut="hearts", **read)
    figure = books.figure(STILL_PROVIDER, RUN_ABV.name)
    assert (figure.basis, figure.value) == (Basis.ESTIMATED, pytest.approx(76))


def test_readings_survive_the_step_back_and_forth(
    take_sqlite: Take, sqlite_store: Store, sqlite_database_url: str
) -> None:
    take_sqlite(("gauges.csv", GAUGE, READ))
    sqlite_store.close()
    downgrade(sqlite_database_url, "0017")
    upgrade(sqlite_database_url)
    with sqlite_store.read() as session:
        read = select(t.gauges.c.temperature_mc).order_by(t.gauges.c.at)
        assert list(session.scalars(read)) == [28_000, 20_000]
