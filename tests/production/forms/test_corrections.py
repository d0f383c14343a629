"""A record put right is worked out and checked as one that is written anew."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import Table, select

from kiosk.figures.strength import Certificate
from kiosk.production.forms.corrections import Correction, correct, fields_of, versions
from kiosk.production.records.faults import RecordFaults
from kiosk.production.runs import instruments
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.conftest import Take
from tests.production.faults_and_values import typed


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
