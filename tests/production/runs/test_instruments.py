"""What a certificate says reaches every strength read with its instrument, from its own day on."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select, update

from kiosk.figures.strength import Certificate, proof_of_abv, reading_abv_percent, true_proof
from kiosk.production.records.faults import RecordFaults
from kiosk.production.runs import instruments
from kiosk.production.runs.account import read_runs
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.conftest import Enter

FIRST, SECOND = datetime(2026, 1, 1, tzinfo=UTC), datetime(2026, 6, 10, tzinfo=UTC)
REGAUGE = {"cask": "C-1", "at": "2026-06-15 09:00", "volume_l": "150", "volume_temperature_c": "30"}
REGAUGE |= {"instrument": "H-1", "reading": "63", "temperature_c": "30"}


def certified(store: Store, scale: str = "glass_abv20", *says: tuple[datetime, Certificate]) -> None:
    """Record instrument H-1 with certificates by the time that each holds from."""
    with store.write() as session:
        made = instruments.add(session, "H-1", scale)
        for since, certificate in says:
            instruments.certify(session, made, since, certificate, by=None, at=since)


def test_the_regulations_own_example_is_corrected_as_they_say(fill_in: Enter, store: Store) -> None:
    """27 CFR 30.23: 192.85 proof at 72.10 °F, corrections -0.03 and +0.05 °F: 192.82 at 72.15 °F."""
    certified(store, "glass_proof60", (FIRST, Certificate(-0.03, 0.05 / 1.8)))
    (row_id,) = fill_in(
        "regauge-volume",
        confirmed=True,
        **{**REGAUGE, "reading": "192.85", "temperature_c": f"{(72.10 - 32) / 1.8:.6f}"},
    ).ids
    with store.read() as session:
        row = session.execute(select(t.gauges).where(t.gauges.c.id == row_id)).one()
    proof = proof_of_abv(100 * row.alcohol_ml / row.volume20_ml)
    assert proof == pytest.approx(true_proof(192.82, 72.15), abs=0.005)
    assert proof != pytest.approx(true_proof(192.85, 72.10), abs=0.005)
    assert row.reading_e2 == 19285


def test_a_reading_has_the_certificate_of_its_own_time(fill_in: Enter, store: Store) -> None:
    old, new = Certificate(-0.2, 0.3), Certificate(0.4, 0.0)
    certified(store, "glass_abv20", (FIRST, old), (SECOND, new))
    still = {"run": "SR-1", "cut": "tails", "collected_temperature_c": "28", "temperature_c": "28"}
    fill_in(
        "still-reading",
        **{**still, "at": "2026-06-06 13:45", "collected_l": "258", "instrument": "H-1", "reading": "8"},
    )
    (row_id,) = fill_in("regauge-volume", confirmed=True, **REGAUGE).ids
    with store.read() as session:
        gauge = session.execute(select(t.gauges).where(t.gauges.c.id == row_id)).one()
        run_id = session.scalar(select(t.run_readings.c.run_id).limit(1))
        last = read_runs(session, [run_id or 0])[run_id or 0][-1][1]
    assert last.abv_percent == pytest.approx(reading_abv_percent("glass_abv20", 8, 28, old))
    assert gauge.alcohol_ml / gauge.volume20_ml == pytest.approx(
        reading_abv_percent("glass_abv20", 63, 30, new) / 100, abs=1e-5
    )


def test_before_its_first_certificate_an_instrument_is_taken_at_its_word(store: Store) -> None:
    certified(store, "density_meter", (SECOND, Certificate(0.5, 0.0, date(2027, 1, 1))))
    with store.read() as session:
        (one,) = instruments.read_instruments(session).every
    assert one.certificate(FIRST) == Certificate()
    assert one.certificate(SECOND).scale == 0.5
    assert not one.has_run_out(SECOND, date(2027, 1, 1))
    assert one.has_run_out(SECOND, date(2027, 1, 2))


def test_a_certificate_of_the_same_day_puts_the_first_right(store: Store) -> None:
    certified(store, "glass_abv20", (FIRST, Certificate(0.5)), (FIRST, Certificate(-0.5)))
    with store.read() as session:
        (one,) = instruments.read_instruments(session).every
    assert [says.scale for _since, says in one.certificates] == [-0.5]


def test_an_instrument_that_is_not_known_is_refused(fill_in: Enter) -> None:
    with pytest.raises(RecordFaults) as refused:
        fill_in("regauge-volume", **REGAUGE)
    assert [fault.column for fault in refused.value.faults] == ["instrument"]


def test_instruments_are_read_once_in_a_transaction_and_anew_after_one_is_recorded(store: Store) -> None:
    certified(store)
    with store.write() as session:
        first = instruments.read_instruments(session)
        assert instruments.read_instruments(session) is first
        made = instruments.add(session, "H-2", "glass_abv20")
        assert [one.code for one in instruments.read_instruments(session).every] == ["H-1", "H-2"]
        says = Certificate(0.1, 0.0)
        instruments.certify(session, made, SECOND, says, by=None, at=SECOND)
        assert instruments.read_instruments(session).every[1].certificates == [(SECOND, says)]
    with store.read() as session:
        assert instruments.read_instruments(session).every[0].certificates == []


def test_a_code_becomes_a_scale_with_the_certificate_of_the_time(sqlite_store: Store) -> None:
    says = Certificate(0.4, -0.2)
    certified(sqlite_store, "density_meter", (FIRST, says))
    with sqlite_store.read() as session:
        known = instruments.read_instruments(session)
    (one,) = known.every
    assert known.read_with("H-1", FIRST) == {
        "scale": "density_meter",
        "instrument_id": one.id,
        "certificate": says,
    }
    for scale in ("glass_abv20", None):
        assert known.read_with(scale, FIRST) == {
            "scale": scale,
            "instrument_id": None,
            "certificate": Certificate(),
        }
    with pytest.raises(instruments.NotAnInstrument):
        known.read_with("H-9", FIRST)
    assert known.certificate(None, FIRST) == Certificate()
    assert known.certificate(one.id, FIRST) == says


def test_an_instrument_whose_scale_is_no_longer_known_reads_nothing(sqlite_store: Store) -> None:
    certified(sqlite_store)
    with sqlite_store.write() as session:
        session.execute(update(t.instruments).values(kind="refractometer"))
    with sqlite_store.read() as session, pytest.raises(instruments.NotAnInstrument):
        instruments.read_instruments(session).read_with("H-1", FIRST)


@pytest.mark.parametrize(
    ("code", "scale"), [("", "glass_abv20"), ("glass_abv20", "glass_abv20"), ("H-1", "guess")]
)
def test_what_is_no_instrument_is_not_recorded(sqlite_store: Store, code: str, scale: str) -> None:
    with sqlite_store.write() as session, pytest.raises(ValueError, match=f"^{code}$"):
        instruments.add(session, code, scale)


def test_a_certificate_is_kept_to_a_ten_thousandth_and_a_thousandth_of_a_degree(sqlite_store: Store) -> None:
    says = Certificate(0.1234, -0.567, date(2027, 1, 1))
    certified(sqlite_store, "glass_abv20", (SECOND, Certificate(0.2)), (FIRST, says))
    with sqlite_store.read() as session:
        (one,) = instruments.read_instruments(session).every
        row = session.execute(select(t.certificates).where(t.certificates.c.since == FIRST)).one()
    assert one.certificates == [(FIRST, says), (SECOND, Certificate(0.2))]
    assert (row.scale_e4, row.thermometer_mc, row.revision) == (1234, -567, 1)
    assert one.certificate(SECOND - timedelta(microseconds=1)) == says
