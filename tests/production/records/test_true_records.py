"""Records that cannot be true wait for a person, whichever way they come in, and nothing else waits."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask import Flask
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.making.recovery import Receipt, Receiver, recovery
from kiosk.production.forms.corrections import Correction, correct, own_draws, versions, void
from kiosk.production.forms.definitions import FORMS
from kiosk.production.importing.previews import import_folder
from kiosk.production.records.faults import FaultCode as F
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.forms import typed_values
from kiosk.production.records.submission import submit_form
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from kiosk.store.names import EXPERIMENT, NamedThing, save_names
from kiosk.store.tables import production as t
from tests.actors import hire, signed_in
from tests.production.conftest import Enter, Take

AT = "2026-06-15 09:00"
WASH = {"wash": "W-1", "at": "2026-06-03 10:00", "temperature_c": ""}
STILL = {"run": "SR-1", "collected_temperature_c": "20", "instrument": "density_meter", "temperature_c": "20"}
LOAD = {
    "code": "L-2",
    "field": "HILL",
    "cut_on": "2026-06-14",
    "milled_at": AT,
    "cane_kg": "1200",
    "juice_l": "640",
    "juice_temperature_c": "20",
    "brix": "16",
}


EXPERIMENTS = ("ensayo-1", "ensayo-2")


@pytest.fixture
def demo(tmp_path: Path) -> Site:
    folder = Path(shutil.copytree(shipped("demo_site"), tmp_path / "demo"))
    make_secret(folder)
    return load_site(folder)


def declare(session: Session, site: Site, *experiments: str, now: datetime) -> None:
    """Name experiments, as the demo does before it imports its records."""
    for code in experiments:
        names = dict.fromkeys(site.codes, f"Trial {code}")
        save_names(session, site.products, NamedThing(EXPERIMENT, code, 0, {}), names, by=None, at=now)


def test_the_demo_s_records_go_in_without_a_question(sqlite_store: Store, demo: Site, now: datetime) -> None:
    with sqlite_store.write() as session:
        declare(session, demo, *EXPERIMENTS, now=now)
        report = import_folder(session, demo, demo.folder / "records", by=None, at=now)
    reasons = [reason for one in report.held for reason in one.reasons]
    assert [(one.file, one.row, one.code, one.found, one.more) for one in reasons] == []
    assert report.written > 5000


def test_a_lot_in_a_file_of_no_known_product_waits_and_the_known_ones_are_named(
    sqlite_store: Store, demo: Site, now: datetime
) -> None:
    with sqlite_store.write() as session:
        declare(session, demo, "ensayo-1", now=now)
        report = import_folder(session, demo, demo.folder / "records", by=None, at=now)
    reason, *following = (reason for one in report.held for reason in one.reasons)
    assert {one.code for one in following} == {F.HELD_WITH_ANOTHER}
    assert (reason.file, reason.code, reason.found) == ("lots.csv", F.UNLISTED_PRODUCT, "ensayo-2")
    assert {"blanco", "reserva", "ensayo-1"} <= set(str(reason.facts["allowed"]).split(", "))


def test_the_small_folder_goes_in_without_a_question(take_sqlite: Take) -> None:
    assert take_sqlite().held == ()


WRONG_IN_FILES = [
    ("wash_readings.csv", "gravity,1.0630", "gravity,45", 2, "value", F.GRAVITY_RANGE),
    ("wash_readings.csv", "ph,4.3", "ph,14.5", 4, "value", F.PH_RANGE),
    ("wash_readings.csv", "ph,4.3", "brix,38", 4, "value", F.BRIX_RANGE),
    ("wash_readings.csv", "ph,4.3", "temperature,84", 4, "value", F.WASH_TEMPERATURE),
    ("loads.csv", "3000,1700,16", "3,1700,16", 2, "cane_kg", F.JUICE_OF_CANE),
    ("loads.csv", "3000,1700,16", "3000,17000,16", 2, "cane_kg", F.JUICE_OF_CANE),
    ("loads.csv", "3000,1700,16", "3000,1700,1.6", 2, "brix", F.BRIX_RANGE),
    # Between hearts and tails: 62 % vol at 11:00, and the cut gone back to heads.
    ("run_readings.csv", "tails,256,", "heads,256,", 5, "cut", F.CUT_GOES_BACK),
    (
        "run_readings.csv",
        "SR-1,2026-06-06 11:00",
        "SR-1,2026-06-06 08:01,hearts,7,density_meter,17,28\nSR-1,2026-06-06 11:00",
        4,
        "reading",
        F.FALLS_TOO_FAST,
    ),
    # 157 L of 60 % vol, and four days later the same at 50 % vol: 94 L become 78 L.
    (
        "gauges.csv",
        "F-1,2026-06-12 10:00,weight,,,187.5,density_meter,60,28",
        "F-1,2026-06-12 10:00,dip,157,20,,density_meter,50,28",
        3,
        "reading",
        F.LOSES_TOO_MUCH,
    ),
]


@pytest.mark.parametrize(("file", "old", "new", "row", "column", "code"), WRONG_IN_FILES)
def test_a_row_that_cannot_be_true_waits_alone(
    take_sqlite: Take, file: str, old: str, new: str, row: int, column: str, code: F
) -> None:
    held = take_sqlite((file, old, new)).held
    reasons = {(one.file, one.row, one.column, one.code) for each in held for one in each.reasons}
    assert (file, row, column, code) in reasons
    assert [one.row.row for one in held if one.row.file == file] == [row]


IN_FORMS = [
    ("wash-reading", {**WASH, "kind": "gravity", "value": "45"}),
    ("wash-reading", {**WASH, "kind": "ph", "value": "14.5"}),
    ("wash-reading", {**WASH, "kind": "temperature", "value": "-2"}),
    ("mill-load", {**LOAD, "cane_kg": "1.2"}),
    (
        "still-reading",
        {**STILL, "at": "2026-06-06 08:01", "cut": "hearts", "collected_l": "7", "reading": "17"},
    ),
    (
        "still-reading",
        {**STILL, "at": "2026-06-06 13:40", "cut": "heads", "collected_l": "257", "reading": "9"},
    ),
    (
        "regauge-volume",
        {
            "cask": "C-1",
            "at": AT,
            "volume_l": "157",
            "volume_temperature_c": "20",
            "instrument": "density_meter",
            "reading": "50",
            "temperature_c": "20",
        },
    ),
]


@pytest.mark.parametrize(("name", "cells"), IN_FORMS)
def test_a_form_that_cannot_be_true_waits_and_is_a_record_once_confirmed(
    fill_in: Enter, name: str, cells: dict[str, str]
) -> None:
    assert fill_in(name, **cells).held_id is not None
    assert fill_in(name, confirmed=True, **cells).ids


def test_the_end_of_a_run_falls_as_slowly_as_it_does(fill_in: Enter) -> None:
    """From 10 % vol at 13:30 to water at 13:40."""
    last = {**STILL, "at": "2026-06-06 13:40", "cut": "tails", "collected_l": "258", "reading": "1"}
    assert fill_in("still-reading", **last).held_id is None


def corrected(store: Store, site: Site, now: datetime, table: str, row_id: int, **new: object) -> None:
    with store.write() as session:
        stood = versions(session, table, row_id)[0]
        values = {**stood.values, **new}
        correct(session, site, table, row_id, stood.revision, values, Correction(None, now, "misread"))


def test_a_correction_is_judged_as_an_entry_is_and_a_tick_confirms_it(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite()
    with pytest.raises(RecordFaults) as refused:
        corrected(sqlite_store, site, now, "wash_readings", 1, value=45.0)
    assert [one.code for one in refused.value.faults] == [F.GRAVITY_RANGE]
    with sqlite_store.write() as session:
        stood = versions(session, "wash_readings", 1)[0]
        who = Correction(None, now, "so it was", checked=True)
        correct(session, site, "wash_readings", 1, stood.revision, {**stood.values, "value": 45.0}, who)


@pytest.mark.parametrize(("ahead", "held"), [(1, False), (4, False), (30, True)])
def test_a_clock_some_minutes_ahead_holds_nothing(
    fill_in: Enter, now: datetime, ahead: int, held: bool
) -> None:
    at = (now.astimezone(ZoneInfo("Etc/GMT+4")) + timedelta(minutes=ahead)).strftime("%Y-%m-%d %H:%M")
    done = fill_in("move", cask="C-1", at=at, to_store="BAJA")
    assert (done.held_id is not None) is held


def test_a_clock_is_ahead_by_minutes_also_while_the_hour_comes_twice() -> None:
    """At 02:58 before the clock goes back, 02:20 an hour later is not five minutes away."""
    from kiosk.production.records.building import BuildContext, _is_after

    madrid = ZoneInfo("Europe/Madrid")
    context = BuildContext(lambda fill: None, None, datetime(2026, 10, 25, 2, 58, tzinfo=madrid), madrid)
    assert _is_after(datetime(2026, 10, 25, 1, 20, tzinfo=UTC), context)
    assert not _is_after(datetime(2026, 10, 25, 1, 2, tzinfo=UTC), context)


# codes and products


def test_codes_are_taken_in_any_case(fill_in: Enter, store: Store) -> None:
    assert fill_in("wash-reading", **{**WASH, "wash": "w-1"}, kind="ph", value="4.4").ids
    assert fill_in(
        "sample",
        cask="c-1",
        at=AT,
        volume_l="0.1",
        volume_temperature_c="20",
        instrument="density_meter",
        reading="60",
        temperature_c="20",
    ).ids
    with pytest.raises(RecordFaults) as refused:
        fill_in("mill-load", **{**LOAD, "code": "l-1"})
    assert [one.code for one in refused.value.faults] == [F.RECORDED_ALREADY]


def test_an_unknown_code_is_named_with_what_it_should_be(fill_in: Enter) -> None:
    for cells, column in (({"cask": "C-9"}, "cask"),):
        with pytest.raises(RecordFaults) as refused:
            fill_in("move", at=AT, to_store="BAJA", **cells)
        (fault,) = refused.value.faults
        assert (fault.code, fault.column, fault.found) == (F.UNKNOWN_CODE, column, "C-9")


def test_files_name_codes_in_any_case(take_sqlite: Take, sqlite_store: Store) -> None:
    report = take_sqlite(
        ("gauges.csv", "F-1,2026-06-12", "f-1,2026-06-12"), ("draws.csv", "lot,BL-1,", "lot,bl-1,")
    )
    assert (report.held, report.faults) == ((), ())
    again = take_sqlite(("washes.csv", "W-1,T1", "W-1,t1"))
    assert again.faults == ()


# what follows


def load_and_draw(store: Store, code: str) -> tuple[int, int, int]:
    """Return id and kilograms of a load, and the kilograms drawn for it."""
    b, d = t.batches.c, t.draws.c
    with store.read() as session:
        row_id = session.scalars(select(b.id).where(b.kind == "load", b.code == code)).one()
        cane_g = session.scalars(select(t.loads.c.cane_g).where(t.loads.c.id == row_id)).one()
        drawn = session.scalars(select(d.amount).where(d.to_id == row_id)).one()
    return row_id, cane_g // 1000, drawn // 1000


def test_a_corrected_load_moves_the_draw_of_its_field(
    fill_in: Enter, store: Store, site: Site, now: datetime
) -> None:
    fill_in("mill-load", confirmed=True, **{**LOAD, "cane_kg": "1.2"})
    row_id, *_ = load_and_draw(store, "L-2")
    later = datetime(2026, 6, 15, 14, tzinfo=UTC)
    corrected(store, site, now, "loads", row_id, cane_kg=1200.0, milled_at=later)
    assert load_and_draw(store, "L-2") == (row_id, 1200, 1200)
    with store.read() as session:
        assert session.scalars(select(t.draws.c.at).where(t.draws.c.to_id == row_id)).one() == later


def test_a_voided_load_takes_its_own_draw_with_it(fill_in: Enter, store: Store, now: datetime) -> None:
    fill_in("mill-load", **LOAD)
    row_id, *_ = load_and_draw(store, "L-2")
    with store.write() as session:
        void(session, "loads", row_id, 1, Correction(None, now, "written twice"))
    with store.read() as session:
        assert session.scalar(select(t.draws.c.id).where(t.draws.c.to_id == row_id)) is None


def test_a_file_s_draws_are_their_own_records(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        row = session.execute(select(t.loads)).mappings().one()
        assert own_draws(session, "loads", row) == []


def test_a_list_of_codes_says_what_each_holds(
    app: Flask, sqlite_store: Store, site: Site, now: datetime
) -> None:
    hire(sqlite_store, site, now, "First", ("manager",))
    screen = signed_in(app, sqlite_store, site, now, "production", "Ana")
    gauge, wash = (screen.get(f"/staff/records/new/{name}").text for name in ("regauge-volume", "wash-set"))
    # 142.5 kg of 60 % vol are 156.8 L (OIML R 22).
    assert re.search(r'<option value="C-1">[^<]*\(156\.[0-9]\sL\), 60\.0\s?% vol</option>', gauge)
    assert re.search(r'<option value="T1">[^<]*\(2,400\sL\)', wash)
    assert '<option value="C-2"' not in gauge


BOTTLED = {
    "code": "BL-9",
    "at": AT,
    "bottles": "1",
    "bottle_ml": "750",
    "abv_percent": "40",
    "solids_g_per_l": "",
    "strength_basis": "distilled",
    "from_kind": "receiver",
    "from": "sr-1-ht",
    "volume_l": "0.5",
    "volume_temperature_c": "20",
    "instrument": "density_meter",
    "reading": "70",
    "temperature_c": "20",
}


@pytest.mark.parametrize(
    ("typed", "kept", "held"),
    [("BLANCO", "blanco", False), ("blanco", "blanco", False), ("Blnco", "Blnco", True)],
)
def test_a_product_is_one_of_the_house_in_any_case(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, typed: str, kept: str, held: bool
) -> None:
    take_sqlite()
    house, form = replace(site, products={"blanco": None}), FORMS["bottling"]
    with sqlite_store.write() as session:
        values = typed_values(form.fields, {**BOTTLED, "product": typed}, site)
        assert (submit_form(session, house, form, values, by=None, at=now).held_id is not None) is held
        if held:
            submit_form(session, house, form, values, by=None, at=now, confirmed=True)
        newest = select(t.lots.c.product).order_by(t.lots.c.id.desc())
        assert session.scalars(newest).first() == kept


@pytest.mark.parametrize(
    ("received_l", "credible"), [(79.0, False), (81.0, True), (100.4, True), (100.6, False)]
)
def test_a_recovery_that_no_still_has_is_flagged(received_l: float, credible: bool) -> None:
    back = recovery([Receipt("wash", 100, 50)], [Receiver("low_wines", received_l, 50)])
    assert back.is_credible is credible
