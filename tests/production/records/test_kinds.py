"""What the files of records can say: each kind as it is kept, and the words of the trade for what happens."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import select

from kiosk.figures.strength import Certificate, reading_abv_percent, volume_at
from kiosk.production.lineage.chain import read_upstream
from kiosk.production.lineage.fills import read_fills
from kiosk.production.lineage.provenance import trace_provenance
from kiosk.production.records.faults import FaultCode, RecordFaults
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import ImportReport
from kiosk.production.runs import instruments
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.conftest import Take

SAMPLE = "F-1,2026-06-13 10:00,sample,0.5,20,density_meter,60,28,\n"
TOPPED_FILLS = "08 10:00,2026-06-14 10:00\nF-2,C-1,BAJA,2026-06-14 10:00,\n"
LAST_DRAW = "receiver,SR-1-HT,lot,BL-1,2026-06-10 09:00,,,11.5,\n"


def more(take: Take, *changes: tuple[str, str, str]) -> ImportReport:
    """Import the small folder with changes and see that nothing of it waits."""
    report = take(*changes)
    assert report.held == ()
    return report


def test_a_topping_is_a_new_fill_of_the_same_cask(take_sqlite: Take, sqlite_store: Store) -> None:
    draws = LAST_DRAW + "fill,F-1,fill,F-2,2026-06-14 10:00,,,93.5,155.8\n"
    draws += "receiver,SR-1-HD,fill,F-2,2026-06-14 10:00,,,2.3,3\n"
    more(take_sqlite, ("fills.csv", "08 10:00,\n", TOPPED_FILLS), ("draws.csv", LAST_DRAW, draws))
    with sqlite_store.read() as session:
        found = {fill.code: fill for fill in read_fills(session).values()}
    assert [(found[code].cask, found[code].number) for code in ("F-1", "F-2")] == [("C-1", 1), ("C-1", 1)]
    assert [found[code].topped for code in ("F-1", "F-2")] == [False, True]
    assert found["F-1"].emptied_at == found["F-2"].filled_at


def test_a_topping_among_events_is_told_how_to_write_it(take_sqlite: Take) -> None:
    with pytest.raises(RecordFaults, match=f"cask_events.csv, row 2, kind: {FaultCode.A_TOPPING}"):
        take_sqlite(("cask_events.csv", ",sample,", ",topping,"))


@pytest.mark.parametrize("kind", ["leak", "sample", "dump"])
def test_what_left_a_cask_is_kept_as_it_was_read_and_at_20_degrees(
    take_sqlite: Take, sqlite_store: Store, kind: str
) -> None:
    more(take_sqlite, ("cask_events.csv", SAMPLE, f"F-1,2026-06-13 10:00,{kind},2.5,30,glass_abv20,63,30,\n"))
    with sqlite_store.read() as session:
        row = session.execute(select(t.cask_events)).one()
    abv = reading_abv_percent("glass_abv20", 63, 30)
    assert (row.kind, row.volume_ml, row.volume_temperature_mc) == (kind, 2500, 30_000)
    assert (row.scale, row.reading_e2, row.temperature_mc) == ("glass_abv20", 6300, 30_000)
    assert row.volume20_ml == round(volume_at(2.5, abv, 30, 20) * 1000)
    assert row.alcohol_ml == pytest.approx(row.volume20_ml * abv / 100, abs=1)


MIX = "MIX-1,V1,2026-06-11 09:00,30,30,glass_abv20,43.6,30\n"
BLENDED = [
    ("blends.csv", "", MIX),
    ("draws.csv", "", "receiver,SR-1-TL,blend,MIX-1,2026-06-11 09:00,,,12,48\n"),
    ("lots.csv", "", "BL-2,blanco,2026-06-12,35,750,40,,distilled\n"),
]


def test_a_blend_is_a_batch_that_gives_no_more_than_it_holds(take: Take, store: Store) -> None:
    report = take(*BLENDED, ("draws.csv", "", "blend,MIX-1,lot,BL-2,2026-06-12 09:00,,,11,\n"))
    assert (report.files["blends.csv"].new, report.held) == (2, ())
    with store.read() as session:
        row = session.execute(select(t.blends).order_by(t.blends.c.id.desc())).first()
    abv = reading_abv_percent("glass_abv20", 43.6, 30)
    assert (row.volume_ml, row.volume_temperature_mc, row.reading_e2) == (30_000, 30_000, 4360)
    assert row.alcohol_ml == pytest.approx(volume_at(30, abv, 30, 20) * abv * 10, abs=1)
    over = take(*BLENDED, ("draws.csv", "", "blend,MIX-1,lot,BL-2,2026-06-12 09:00,,,13,\n"))
    (held,) = over.held
    assert (held.reasons[0].code, held.reasons[0].found) == (FaultCode.OVER, "13")
    assert held.reasons[0].facts["batch"] == "MIX-1"


RECEIVED = (
    "code,kind,what,origin,received_on,volume_l,volume_temperature_c,scale,reading,temperature_c,"
    "stated_age_years\n"
)


@pytest.mark.parametrize(("stated", "years"), [("3", 4), ("0", 1), ("", None)])
def test_the_age_that_a_supplier_states_counts_and_where_none_is_stated_the_age_is_not_known(
    take_sqlite: Take, sqlite_store: Store, site: Site, stated: str, years: int | None
) -> None:
    bought = f"{RECEIVED}RS-1,spirit,cane spirit,Elsewhere,2025-01-10,100,28,density_meter,60,28,{stated}\n"
    take_sqlite(
        ("fills.csv", "", "F-9,C-2,BAJA,2025-01-12 10:00,\n"),
        ("lots.csv", "", "RE-1,reserva,2026-03-10,40,750,40,,distilled\n"),
        ("draws.csv", "", "received,RS-1,fill,F-9,2025-01-12 10:00,,,57,95\n"),
        ("draws.csv", "", "fill,F-9,lot,RE-1,2026-03-10 09:00,,,12.1,20\n"),
        ("received.csv", "", bought),
        leave_out=("received.csv",),
    )
    with sqlite_store.read() as session:
        lot_id = session.scalars(select(t.batches.c.id).where(t.batches.c.code == "RE-1")).one()
        found = trace_provenance(read_upstream(session, lot_id), site.zone)
    assert found.age.years == years


def test_a_reading_by_an_instrument_of_the_house_is_corrected_by_its_certificate(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    with sqlite_store.write() as session:
        meter = instruments.add(session, "H-7", "glass_abv20")
        says = Certificate(scale=-0.3, thermometer_c=0.5)
        instruments.certify(session, meter, datetime(2026, 1, 1, tzinfo=UTC), says, by=None, at=now)
    gauge = "F-1,2026-06-08 10:00,dip,160,20,,density_meter,60,28\n"
    take_sqlite(("gauges.csv", gauge, gauge.replace("density_meter,60", "H-7,63")))
    with sqlite_store.read() as session:
        row = session.execute(select(t.gauges).order_by(t.gauges.c.at)).first()
    abv = reading_abv_percent("glass_abv20", 63 - 0.3, 28.5)
    assert (row.instrument_id, row.scale, row.reading_e2) == (meter, "glass_abv20", 6300)
    assert row.alcohol_ml == pytest.approx(row.volume20_ml * abv / 100, abs=1)


def test_what_is_received_is_corrected_by_the_certificate_of_its_day(
    take_sqlite: Take, sqlite_store: Store, now: datetime
) -> None:
    with sqlite_store.write() as session:
        meter = instruments.add(session, "H-7", "glass_abv20")
        for month, says in ((1, -0.5), (6, 0.5)):
            since = datetime(2026, month, 10, tzinfo=UTC)
            instruments.certify(session, meter, since, Certificate(scale=says), by=None, at=now)
    bought = f"{RECEIVED}RS-1,spirit,cane spirit,Elsewhere,2026-06-02,100,20,H-7,60,20,\n"
    take_sqlite(("received.csv", "", bought), leave_out=("received.csv",))
    with sqlite_store.read() as session:
        assert session.scalars(select(t.received.c.alcohol_ml)).one() == 59_500


def test_an_instrument_that_nobody_knows_is_a_fault_with_its_remedy(take_sqlite: Take) -> None:
    told = f"gauges.csv, row 2, scale: {FaultCode.NOT_AN_INSTRUMENT} 'H-9'"
    with pytest.raises(RecordFaults, match=told):
        take_sqlite(("gauges.csv", "density_meter,60,28\nF", "H-9,60,28\nF"))


def test_a_column_that_is_added_later_makes_no_row_another(take_sqlite: Take) -> None:
    take_sqlite()
    with_age = ("received.csv", "received_on\nGIN-1,fruit,ginger root,Hill farm,,2026-06-02\n", "{}")
    later = "received_on,stated_age_years\nGIN-1,fruit,ginger root,Hill farm,,2026-06-02,\n"
    assert take_sqlite((*with_age[:2], later)).files["received.csv"].same == 1


def test_every_kind_that_is_read_as_a_strength_asks_its_temperature_and_every_volume_its_own() -> None:
    for kind in KINDS:
        names = {field.name for field in kind.fields}
        assert ("reading" in names) == ("temperature_c" in names and "scale" in names), kind.file
        if "reading" in names and "volume_l" in names:
            assert "volume_temperature_c" in names, kind.file
