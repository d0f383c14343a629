"""What a form says becomes a record like an imported one, is refused, or is held for a person."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import Table, func, select

from kiosk.figures.strength import reading_abv_percent, volume_at, volume_of_mass
from kiosk.production.forms.definitions import FORMS
from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.production.records.fields import from_json
from kiosk.production.records.forms import typed_values
from kiosk.production.records.submission import (
    Source,
    batch_in,
    record_cask_sample,
    sender,
    sent_by,
)
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.store.tables import production as t
from tests.production.conftest import Enter, Take
from tests.production.live.conftest import MORNING, Books, hours

METER = {"instrument": "density_meter", "temperature_c": "28"}
DIPPED = {
    "volume_l": "150",
    "volume_temperature_c": "30",
    "instrument": "glass_abv20",
    "reading": "63",
    "temperature_c": "30",
}
AT = "2026-06-15 09:00"
GAUGED = {"volume_l": "1", "volume_temperature_c": "20", "reading": "77", **METER}


def part(n: int, **cells: str) -> dict[str, str]:
    """Return the cells of one row of what goes into a batch."""
    return {f"{name}_{n}": value for name, value in cells.items()}


HEADS = {"from_kind": "receiver", "from": "SR-1-HD", "volume_l": "1", "volume_temperature_c": "20"}
TAILS = {"from_kind": "receiver", "from": "SR-1-TL", "volume_l": "40", "volume_temperature_c": "20"}
RIGHT = {
    "cask-fill": {"code": "F-2", "cask": "C-2", "store": "BAJA", "at": AT, "from_kind": "receiver"}
    | {"from": "SR-1-HD", "how": "dip", "volume_l": "1", "volume_temperature_c": "20", "reading": "60"}
    | METER,
    "top-up": {"cask": "C-1", "code": "F-3", "store": "BAJA", "at": AT, "from_kind": "receiver"}
    | {"from": "SR-1-HD", "added_l": "1", "added_temperature_c": "20", "added_reading": "77"}
    | {"added_reading_temperature_c": "20", **GAUGED, "volume_l": "159", "reading": "60.1"},
    "regauge-volume": {"cask": "C-1", "at": AT, **DIPPED, "volume_l": "155"},
    "regauge-weight": {"cask": "C-1", "at": AT, "gross_kg": "185", "reading": "60", **METER},
    "leak": {"cask": "C-1", "at": AT},
    "sample": {"cask": "C-1", "at": AT, **DIPPED, "volume_l": "0.5"},
    "transfer": {"cask": "C-1", "at": AT, "to_kind": "run", "to": "SR-1", **DIPPED, "volume_l": "1"},
    "dump": {"cask": "C-1", "at": AT},
    "move": {"cask": "C-1", "at": AT, "to_store": "BAJA"},
    "mill-load": {"code": "L-2", "field": "HILL", "cut_on": "2026-06-14", "milled_at": AT, "cane_kg": "900"}
    | {"juice_l": "500", "juice_temperature_c": "30", "brix": "17"},
    "wash-set": {"code": "W-2", "tank": "T1", "at": AT, "volume_l": "20", "volume_temperature_c": "30"}
    | part(1, load="L-1", juice_l="10", brix="16"),
    "wash-reading": {"wash": "W-1", "at": AT, "kind": "ph", "value": "4.2"},
    "run-start": {"code": "SR-2", "still": "SS", "kind": "spirit", "at": AT, "instrument": "density_meter"}
    | part(1, **HEADS, reading="78", temperature_c="28")
    | part(2, **TAILS, reading="25", temperature_c="28"),
    "still-reading": {"run": "SR-1", "at": "2026-06-06 13:45", "cut": "tails", "collected_l": "258"}
    | {"collected_temperature_c": "28", "reading": "8", **METER},
    "receiver": {"code": "SR-1-PT", "run": "SR-1", "held_cut": "pot", "at": AT, "fate": "destroyed"}
    | {**GAUGED, "volume_l": "200", "reading": "0.5"},
    "received": {"code": "RS-1", "kind": "spirit", "what": "cane spirit", "origin": "elsewhere", "at": AT}
    | {**GAUGED, "volume_l": "400", "reading": "62"},
    "blend": {"code": "V-2", "vat": "V1", "at": AT, **GAUGED, "volume_l": "41", "reading": "26.3"}
    | part(1, **HEADS, reading="78", temperature_c="28")
    | part(2, **TAILS, reading="25", temperature_c="28"),
    "bottling": {"code": "BL-2", "product": "blanco", "at": AT, "bottles": "2", "bottle_ml": "750"}
    | {"abv_percent": "40", "strength_basis": "distilled", "from_kind": "receiver", "from": "SR-1-HD"}
    | {"volume_l": "1", "volume_temperature_c": "20", "reading": "77", **METER},
}


def count(store: Store, table: Table) -> int:
    """Count a table's rows."""
    with store.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def faults_of(enter: Enter, form: str, **cells: str) -> dict[str, FaultCode]:
    """Return what a form is refused for, by field."""
    with pytest.raises(RecordFaults) as refused:
        enter(form, **cells)
    return {fault.column: fault.code for fault in refused.value.faults}


def test_every_form_is_tried_here() -> None:
    assert {*RIGHT, "wash-end", "run-end"} == set(FORMS)


RECORDS: dict[str, dict[Table, int]] = {
    "cask-fill": {t.fills: 1, t.gauges: 1, t.draws: 1},
    "top-up": {t.fills: 1, t.gauges: 1, t.draws: 2},
    "regauge-volume": {t.gauges: 1},
    "regauge-weight": {t.gauges: 1},
    "leak": {t.cask_events: 1},
    "sample": {t.cask_events: 1},
    "dump": {t.cask_events: 1},
    "move": {t.cask_events: 1},
    "mill-load": {t.loads: 1, t.draws: 1},
    "wash-set": {t.washes: 1, t.draws: 1},
    "wash-reading": {t.wash_readings: 1},
    "run-start": {t.runs: 1, t.draws: 2},
    "still-reading": {t.run_readings: 1},
    "receiver": {t.receivers: 1, t.draws: 1},
    "received": {t.received: 1},
    "blend": {t.blends: 1, t.draws: 2},
    "bottling": {t.lots: 1, t.draws: 1},
}
"""How many records of each kind each form of `RIGHT` makes."""
TABLES = {table for records in RECORDS.values() for table in records}


@pytest.mark.parametrize("form", [name for name in RIGHT if name != "transfer"])
def test_each_form_makes_its_records(fill_in: Enter, store: Store, form: str) -> None:
    before = {table: count(store, table) for table in TABLES}
    entered = fill_in(form, **RIGHT[form])
    added = {table: count(store, table) - n for table, n in before.items()}
    assert {table: n for table, n in added.items() if n} == RECORDS[form]
    assert (len(entered.ids), entered.held_id) == (sum(RECORDS[form].values()), None)


def test_a_dipped_cask_is_kept_at_20_degrees(fill_in: Enter, store: Store) -> None:
    (row_id,) = fill_in("regauge-volume", **{**RIGHT["regauge-volume"], "volume_l": "155"}).ids
    abv = reading_abv_percent("glass_abv20", 63, 30)
    with store.read() as session:
        row = session.execute(select(t.gauges).where(t.gauges.c.id == row_id)).one()
    assert row.volume20_ml == round(volume_at(155, abv, 30, 20) * 1000)
    assert row.alcohol_ml == pytest.approx(row.volume20_ml * abv / 100, abs=1)
    assert (row.source, row.how, row.reading_e2) == ("form", "dip", 6300)


def test_a_weighed_cask_is_its_spirit_without_the_tare(fill_in: Enter, store: Store) -> None:
    (row_id,) = fill_in("regauge-weight", **RIGHT["regauge-weight"]).ids
    with store.read() as session:
        row = session.execute(select(t.gauges).where(t.gauges.c.id == row_id)).one()
    assert row.volume20_ml == round(volume_of_mass(185 - 45, 60, 20) * 1000)


def test_a_transfer_is_a_draw_at_20_degrees(fill_in: Enter, store: Store) -> None:
    fill_in("cask-fill", **RIGHT["cask-fill"])
    (row_id,) = fill_in("transfer", **{**RIGHT["transfer"], "to_kind": "fill", "to": "F-2"}).ids
    with store.read() as session:
        row = session.execute(select(t.draws).where(t.draws.c.id == row_id)).one()
    abv = reading_abv_percent("glass_abv20", 63, 30)
    assert row.amount == pytest.approx(volume_at(1, abv, 30, 20) * abv * 10, abs=1)
    assert "to" in faults_of(fill_in, "transfer", **{**RIGHT["transfer"], "to": "SR-9"})


def test_a_dump_empties_the_cask(fill_in: Enter, store: Store) -> None:
    fill_in("dump", **RIGHT["dump"])
    assert "cask" in faults_of(fill_in, "leak", **{**RIGHT["leak"], "at": "2026-06-15 10:00"})


@pytest.mark.parametrize(
    ("form", "wrong", "field"),
    [
        ("sample", {"volume_temperature_c": ""}, "volume_temperature_c"),
        ("regauge-volume", {"cask": "C-9"}, "cask"),
        ("regauge-volume", {"instrument": "float"}, "instrument"),
        ("regauge-volume", {"reading": "900"}, "reading"),
        ("still-reading", {"run": "SR-9"}, "run"),
        ("mill-load", {"field": "SEA"}, "field"),
        ("cask-fill", {"cask": "C-1"}, "cask"),
        ("cask-fill", {"volume_l": ""}, "volume_l"),
        ("leak", {"at": "2026-06-01 09:00"}, "cask"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field_and_leaves_nothing(
    fill_in: Enter, store: Store, form: str, wrong: dict[str, str], field: str
) -> None:
    before = [count(store, table) for table in (t.gauges, t.fills, t.loads, t.batches, t.held)]
    assert field in faults_of(fill_in, form, **{**RIGHT[form], **wrong})
    assert [count(store, table) for table in (t.gauges, t.fills, t.loads, t.batches, t.held)] == before


DOUBTFUL = [
    ("regauge-volume", {"volume_l": "190", "reading": "70"}, True),  # the cask gained alcohol
    ("still-reading", {"collected_l": "9000", "reading": "60"}, True),  # more spirit than wash
    ("regauge-volume", {"reading": "120"}, False),  # stronger than pure alcohol
    ("regauge-volume", {"at": "2026-06-17 09:00"}, False),  # tomorrow
]


@pytest.mark.parametrize(("form", "wrong", "recordable"), DOUBTFUL)
def test_what_can_hardly_be_is_held_and_neither_taken_nor_dropped(
    fill_in: Enter, store: Store, site: Site, form: str, wrong: dict[str, str], recordable: bool
) -> None:
    before = count(store, t.gauges) + count(store, t.run_readings)
    cells = {**RIGHT[form], **wrong}
    entered = fill_in(form, **cells)
    with store.read() as session:
        row = session.execute(select(t.held).where(t.held.c.id == entered.held_id)).one()
    held = from_json(FORMS[form].fields, row.payload["cells"], site.zone)
    assert held == typed_values(FORMS[form].fields, cells, site)
    assert row.reasons
    assert count(store, t.gauges) + count(store, t.run_readings) == before
    if recordable:
        assert fill_in(form, confirmed=True, **cells).ids
    else:
        with pytest.raises(RecordFaults):
            fill_in(form, confirmed=True, **cells)


def test_a_gain_within_the_gauges_is_taken(fill_in: Enter) -> None:
    gained = {**RIGHT["regauge-volume"], "volume_l": "158.5", "volume_temperature_c": "20"}
    gained |= {"instrument": "density_meter", "reading": "60"}
    assert fill_in("regauge-volume", **gained).ids


def test_the_same_record_twice_is_refused(fill_in: Enter) -> None:
    fill_in("wash-reading", **RIGHT["wash-reading"])
    assert faults_of(fill_in, "wash-reading", **RIGHT["wash-reading"])


def test_figures_learn_of_an_entry(fill_in: Enter, store: Store) -> None:
    with store.read() as session:
        before = versions(session)["runs"]
    fill_in("still-reading", **RIGHT["still-reading"])
    with store.read() as session:
        assert versions(session)["runs"] > before


def test_an_import_does_not_write_over_what_was_entered_by_hand(fill_in: Enter, take: Take) -> None:
    fill_in("wash-reading", **RIGHT["wash-reading"])
    line = "W-1,2026-06-05 06:30,ph,4.3,\n"
    with pytest.raises(Exception, match=str(FaultCode.ENTERED_BY_HAND)):
        take(("wash_readings.csv", line, line + f"W-1,{AT},ph,4.2,\n"))


SECOND = timedelta(seconds=1)


def in_tank(books: Books, at: datetime) -> str | None:
    with books.store.read() as session:
        return batch_in(session, "wash", select(t.vessels.c.id).scalar_subquery(), at)


def test_a_batch_lies_in_its_vessel_from_its_first_moment_to_its_last(books: Books) -> None:
    books.wash("W-1", "T1", MORNING, MORNING + hours(9))
    assert in_tank(books, MORNING - SECOND) is None
    assert [in_tank(books, at) for at in (MORNING, MORNING + hours(9))] == ["W-1", "W-1"]
    assert in_tank(books, MORNING + hours(9) + SECOND) is None
    books.wash("W-2", "T1", MORNING + hours(9))
    assert in_tank(books, MORNING + hours(9)) == "W-2"  # of two the one begun last
    assert in_tank(books, MORNING + hours(90)) == "W-2"


@pytest.mark.parametrize(
    ("source", "device"), [("device:7:r-1", 7), ("device:12:a:b", 12), ("form", None), ("loads.csv", None)]
)
def test_who_sent_a_record_is_told_of_its_source(source: str, device: int | None) -> None:
    assert sender(source) == device


def test_a_reading_is_known_by_its_sender_and_its_own_id() -> None:
    assert sent_by(7, "r-1", "abc") == Source("device:7:r-1", "abc")


@pytest.mark.parametrize(
    ("at", "fault"),
    [
        ("2026-06-15 08:59", ("at", FaultCode.ENDS_BEFORE_START)),
        ("2026-06-15 09:00", None),
        ("2026-06-16 11:00", None),
        ("2026-06-16 11:05", None),
        ("2026-06-16 11:06", ("at", FaultCode.IN_FUTURE)),
    ],
)
def test_a_wash_ends_between_its_setting_and_now(
    fill_in: Enter, store: Store, at: str, fault: tuple[str, FaultCode] | None
) -> None:
    fill_in("wash-set", **RIGHT["wash-set"])
    if fault:
        assert dict([fault]) == faults_of(fill_in, "wash-end", wash="W-2", at=at)
        return
    (row_id,) = fill_in("wash-end", wash="W-2", at=at).ids
    with store.read() as session:
        row = session.execute(select(t.washes).where(t.washes.c.id == row_id)).one()
    assert (f"{row.ended_at - timedelta(hours=4):%Y-%m-%d %H:%M}", row.revision) == (at, 2)
    assert faults_of(fill_in, "wash-end", wash="W-2", at=at) == {"wash": FaultCode.ENDED_ALREADY}
    assert faults_of(fill_in, "wash-end", wash="W-9", at=at) == {"wash": FaultCode.UNKNOWN_CODE}


def test_a_wash_of_one_reading_has_no_strength_and_one_that_rose_holds_none(
    fill_in: Enter, store: Store
) -> None:
    fill_in("wash-set", **RIGHT["wash-set"])
    charge = part(1, **{"from_kind": "wash", "from": "W-2", "volume_l": "1", "volume_temperature_c": "20"})
    run = {"code": "WR-2", "still": "WS", "kind": "wash", "at": "2026-06-16 10:00", **charge}
    read = {"wash": "W-2", "kind": "gravity", "temperature_c": "20"}
    fill_in("wash-reading", **read, at="2026-06-15 10:00", value="1.0600")
    assert faults_of(fill_in, "run-start", **run).keys() & {"instrument", "reading_1"}
    fill_in("wash-reading", **read, at="2026-06-15 11:00", value="1.0601")
    fill_in("run-start", confirmed=True, **run)
    with store.read() as session:
        drawn = session.execute(select(t.draws).order_by(t.draws.c.id.desc()).limit(1)).one()
    assert (drawn.amount, drawn.volume_ml) == (0, 1000)


def test_spirit_received_needs_a_reading_where_water_needs_none(fill_in: Enter) -> None:
    fill_in("received", **RIGHT["received"])
    spirit = {**RIGHT["blend"], "from_kind_2": "received", "from_2": "RS-1", "reading_2": ""}
    assert "reading_2" in faults_of(fill_in, "blend", **spirit)


def test_a_sample_drawn_on_a_tour_is_written_to_the_minute_as_it_was_measured(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite()
    measured = {"volume_l": 0.5, "temperature_c": 30.0, "abv_percent": 60.0}
    with sqlite_store.write() as session:
        at = now - timedelta(hours=1) + timedelta(seconds=42, microseconds=7)
        assert record_cask_sample(session, site, "C-1", **measured, by=None, at=at) is None
        row = session.execute(select(t.cask_events).order_by(t.cask_events.c.id.desc()).limit(1)).one()
    assert (row.kind, row.at) == ("sample", now - timedelta(hours=1))
    assert row.volume20_ml == round(volume_at(500, 60, 30, 20))
    assert (row.reading_e2, row.temperature_mc, row.scale) == (6000, 20_000, "density_meter")
