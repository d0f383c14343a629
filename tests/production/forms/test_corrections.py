"""A record put right is worked out and checked as one that is written anew."""

from __future__ import annotations

import csv
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import Table, select, update

from kiosk.figures.strength import Certificate
from kiosk.production.forms.corrections import (
    Correction,
    correct,
    fields_of,
    latest_records,
    staff_name,
    versions,
)
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.kinds import LISTED
from kiosk.production.runs import instruments
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from tests.actors import hire
from tests.production.conftest import Take
from tests.production.faults_and_values import typed
from tests.production.folder import FILES


def put_right(
    store: Store, site: Site, now: datetime, table: Table, *, checked: bool = False, **cells: str
) -> None:
    """Put the first record of a table right."""
    with store.write() as session:
        row_id, revision = session.execute(select(table.c.id, table.c.revision).order_by(table.c.id)).first()
        stood = versions(session, table.name, row_id)[0].values
        says = {**stood, **typed(fields_of(table.name), site, **cells)}
        correct(session, site, table.name, row_id, revision, says, Correction(None, now, "misread", checked))


@pytest.mark.parametrize("table", [t.blends, t.receivers])
def test_a_reading_put_right_is_corrected_by_the_certificate_of_its_own_time(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, table: Table
) -> None:
    take_sqlite()
    with sqlite_store.write() as session:
        meter = instruments.add(session, "DM-1", "density_meter")
        instruments.certify(session, meter, datetime(2026, 1, 1, tzinfo=UTC), Certificate(), by=None, at=now)
        later = datetime(2026, 6, 15, tzinfo=UTC)
        instruments.certify(session, meter, later, Certificate(scale=5.0), by=None, at=now)
        before = session.execute(select(table.c.alcohol_ml).order_by(table.c.id)).scalars().first()
    put_right(sqlite_store, site, now, table, instrument="DM-1")
    with sqlite_store.read() as session:
        assert session.execute(select(table.c.alcohol_ml).order_by(table.c.id)).scalars().first() == before


def test_a_fill_is_not_put_right_into_a_time_when_its_cask_held_another(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    first = "F-1,C-1,BAJA,2026-06-08 10:00,\n"
    take_sqlite(("fills.csv", first, first + "F-0,C-1,BAJA,2026-06-02 10:00,2026-06-03 10:00\n"))
    with pytest.raises(RecordFaults):
        put_right(sqlite_store, site, now, t.fills, checked=True, filled_at="2026-06-02 12:00")


@pytest.mark.parametrize("wrong", [{"filled_at": "2026-06-09 10:00"}, {"emptied_at": "2026-06-11 10:00"}])
def test_a_fill_is_not_put_right_out_of_the_time_of_its_gauges(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime, wrong: dict[str, str]
) -> None:
    take_sqlite()
    with pytest.raises(RecordFaults):
        put_right(sqlite_store, site, now, t.fills, checked=True, **wrong)


def test_a_vat_is_not_put_right_to_less_than_was_drawn_out_of_it(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite(
        (
            "draws.csv",
            "receiver,SR-1-HD,blend",
            "blend,VAT-1,lot,BL-1,2026-06-10 09:00,,,1.1,\nreceiver,SR-1-HD,blend",
        )
    )
    with pytest.raises(RecordFaults):
        put_right(sqlite_store, site, now, t.blends, checked=True, volume_l="1")


def test_a_gauge_put_right_into_the_time_of_another_is_told_so(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite()
    with pytest.raises(RecordFaults):
        put_right(sqlite_store, site, now, t.gauges, checked=True, at="2026-06-12 10:00")


def test_a_fill_is_put_right_within_what_its_cask_and_gauges_allow(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    first = "F-1,C-1,BAJA,2026-06-08 10:00,\n"
    take_sqlite(("fills.csv", first, first + "F-0,C-1,BAJA,2026-06-02 10:00,2026-06-03 10:00\n"))
    put_right(sqlite_store, site, now, t.fills, filled_at="2026-06-08 09:00")
    put_right(sqlite_store, site, now, t.fills, emptied_at="2026-06-14 10:00")


def written(name: str, site: Site) -> list[dict[str, object]]:
    """Return the values that the small folder's file writes of each record, as corrections show them."""
    kind = LISTED[name]
    values = []
    for cells in csv.DictReader(FILES[f"{name}.csv"].splitlines()):
        row = {
            one.name: one.read(text, site.zone) if (text := cells.get(one.name)) else None
            for one in kind.fields
        }
        values.append({"instrument" if key == "scale" else key: value for key, value in row.items()})
    return values


@pytest.mark.parametrize("name", [name for name in LISTED if f"{name}.csv" in FILES])
def test_a_record_is_shown_as_it_was_written(
    take_sqlite: Take, sqlite_store: Store, site: Site, name: str
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        shown = [one.values for one in reversed(latest_records(session)[name])]
        ids = [one.row_id for one in reversed(latest_records(session)[name])]
        newest = [versions(session, name, row_id) for row_id in ids]
    assert shown == written(name, site)
    assert [[one.values for one in each] for each in newest] == [[one] for one in shown]
    assert {each[0].revision for each in newest} == {1}


def test_the_twelve_records_written_last_are_listed_newest_first(
    take_sqlite: Take, sqlite_store: Store
) -> None:
    more = "".join(f"M-{n},2026-06-01,2026-06-01 09:{n:02d},3000,1700,16\n" for n in range(1, 13))
    take_sqlite(("loads.csv", "", more))
    with sqlite_store.read() as session:
        codes = [one.values["code"] for one in latest_records(session)["loads"]]
    assert codes == [f"M-{n}" for n in range(12, 0, -1)]


def test_every_version_says_who_ended_it_when_and_why(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    take_sqlite()
    ana = hire(sqlite_store, site, now, "Ana", ("production",))
    for n, grams in ((1, "3100"), (2, "3200")):
        with sqlite_store.write() as session:
            row_id = session.scalars(select(t.loads.c.id)).one()
            says = {**versions(session, "loads", row_id)[0].values, "cane_kg": float(grams)}
            who = Correction(ana, now + timedelta(hours=n), f"weighed {n}")
            correct(session, site, "loads", row_id, n, says, who)
    with sqlite_store.read() as session:
        every = versions(session, "loads", row_id)
        assert (staff_name(session, ana), staff_name(session, 99), staff_name(session, None)) == (
            "Ana",
            "",
            "",
        )
        with pytest.raises(NoSuchRow):
            versions(session, "loads", 999)
    assert [(one.revision, one.values["cane_kg"], one.act, one.by, one.why) for one in every] == [
        (3, 3200, "", "", ""),
        (2, 3100, "changed", "Ana", "weighed 2"),
        (1, 3000, "changed", "Ana", "weighed 1"),
    ]
    assert [one.at for one in every] == [None, now + timedelta(hours=2), now + timedelta(hours=1)]
    assert {one.values["cut_on"] for one in every} == {date(2026, 6, 1)}
    assert {one.values["milled_at"] for one in every} == {datetime(2026, 6, 1, 12, tzinfo=UTC)}


def test_a_record_of_before_readings_were_kept_is_shown_as_read_at_20_degrees(
    take_sqlite: Take, sqlite_store: Store
) -> None:
    take_sqlite()
    bare = {"scale": None, "reading_e2": None, "temperature_mc": None}
    with sqlite_store.write() as session:
        row_id = session.scalars(select(t.blends.c.id)).one()
        session.execute(
            update(t.blends).values(**bare, volume_temperature_mc=None, volume20_ml=2500, alcohol_ml=1500)
        )
        values = versions(session, "blends", row_id)[0].values
    assert (values["volume_l"], values["reading"], values["instrument"]) == (2.5, 60.0, "density_meter")
    assert (values["temperature_c"], values["volume_temperature_c"]) == (20.0, 20.0)
