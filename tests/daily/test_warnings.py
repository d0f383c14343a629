"""What the daily run warns of: each thing on its own, and nothing of what holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from kiosk.daily import warnings
from kiosk.store import ledgers, rows
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import certificates, instruments, run_readings, runs, vessels
from kiosk.store.tables.staff import devices, permits, sign_offs, staff
from kiosk.store.tables.tasting import approvals
from kiosk.words.catalogs import load_words
from tests.tasting_room import Tasting, tasting_site

TODAY = date(2026, 6, 16)
EN = load_words(Path("locales"), "en", "en_US")


@pytest.fixture
def tasting(store, now, tmp_path) -> Tasting:
    """A tasting whose tablet was just enrolled."""
    return Tasting.begun(store, tasting_site(tmp_path), now)


def told(tasting, **changes):
    with tasting.store.read() as session:
        return warnings(session, replace(tasting.site, **changes), EN, tasting.now)


def add(tasting, table, **values):
    with tasting.store.write() as session:
        return rows.insert(session, table, values)


def permit(tasting, days, who=None):
    until = TODAY + timedelta(days=days)
    held = {"staff_id": who or tasting.bea, "kind": "serving", "number": "7"}
    add(tasting, permits, **held, valid_from=TODAY - timedelta(days=400), valid_until=until)


def certify(tasting, instrument_id, until, years_ago=0):
    since = tasting.now - timedelta(days=1 + 365 * years_ago)
    values = {"instrument_id": instrument_id, "since": since, "until": until}
    add(tasting, certificates, **values, scale_e4=0, thermometer_mc=0)


def test_a_house_in_order_is_not_warned(tasting):
    permit(tasting, 31)
    meter = add(tasting, instruments, code="H1", kind="glass_abv20")
    certify(tasting, meter, date(2026, 6, 1), years_ago=1)  # the one before the last
    certify(tasting, meter, date(2027, 6, 1))
    assert told(tasting) == []


@pytest.mark.parametrize(
    ("days", "said"), [(30, "ends on July 16"), (0, "ends on June 16"), (-1, "ended on June 15")]
)
def test_a_permit_is_told_before_it_ends_and_after(tasting, days, said):
    permit(tasting, days)
    assert told(tasting) == [f"Permit serving of Bea: {said}"]


def test_a_renewed_permit_is_not_told_nor_one_of_somebody_who_left(tasting):
    permit(tasting, -3)
    permit(tasting, 200)
    gone = add(tasting, staff, name="Cleo", pin_hash="x", languages=["en"], left_on=TODAY)
    permit(tasting, 3, gone)
    assert told(tasting) == []


def test_a_sign_off_is_told_unless_a_later_one_holds_for_good(tasting):
    def sign(skill, until):
        values = {"key": new_key(), "at": tasting.now, "recorded_at": tasting.now, "by": tasting.ana}
        with tasting.store.write() as session:
            ledgers.append(
                session,
                sign_offs,
                {**values, "staff_id": tasting.bea, "skill": skill, "expires_on": until},
            )

    sign("roll_call", TODAY + timedelta(days=3))
    sign("first_aid", TODAY)
    sign("first_aid", None)
    assert told(tasting) == ["Sign-off roll_call of Bea: ends on June 19"]


def test_certificates_and_approvals_that_end(tasting):
    certify(tasting, add(tasting, instruments, code="H1", kind="glass_abv20"), date(2026, 6, 1))
    one = {"kind": "bottled", "product": "blanco", "abv_basis": "label", "rooms": ["main"]}
    one |= {"from_on": date(2026, 1, 1), "signed_by": tasting.ana}
    add(tasting, approvals, code="R1", until_on=TODAY + timedelta(days=1), **one)
    add(tasting, approvals, code="R0", until_on=TODAY - timedelta(days=1), **one)  # over: nothing to do
    ended = {"until_on": TODAY + timedelta(days=1), "ended_at": tasting.now}
    add(tasting, approvals, code="R2", **one, **ended)
    assert told(tasting) == ["Certificate of instrument H1: ended on June 1", "Approval R1: ends on June 17"]


def test_a_device_that_writes_nothing_any_more_is_told(tasting):
    long_ago = tasting.now - timedelta(days=61)
    values = {"kind": "tablet", "enrolled_at": long_ago}
    add(tasting, devices, name="lost", token_hash="a" * 64, **values)
    add(tasting, devices, name="revoked", token_hash="b" * 64, revoked_at=long_ago, **values)
    add(tasting, devices, name="hall", token_hash="c" * 64, **{**values, "kind": "wall"})
    used = add(tasting, devices, name="bar", token_hash="d" * 64, **values)
    tasting.check()
    tasting.tablet = used
    tasting.pour(tasting.guests[0])
    (said,) = told(tasting)
    assert said.startswith("Device lost has written nothing for 60 days")


def test_an_instrument_is_known_by_its_readings(tasting):
    long_ago = tasting.now - timedelta(days=61)
    values = {"kind": "instrument", "enrolled_at": long_ago}
    meter = add(tasting, devices, name="meter", token_hash="a" * 64, **values)
    assert len(told(tasting)) == 1
    with tasting.store.write() as session:
        made = {"recorded_at": tasting.now, "source": "form"}
        vessel = {"code": "SS", "kind": "spirit_still", "capacity_ml": 1_000_000}
        run = {
            "vessel_id": rows.insert(session, vessels, vessel),
            "kind": "spirit",
            "started_at": tasting.now,
        }
        read = {"run_id": rows.insert_batch(session, runs, "run", "R-1", {**run, **made}), "at": tasting.now}
        read |= {"cut": "hearts", "collected_ml": 1, "scale": "density_meter", "reading_e2": 7000}
        sent = {**made, "source": f"device:{meter}:77", "temperature_mc": 25_000}
        rows.insert(session, run_readings, {**read, **sent})
    assert told(tasting) == []


def test_a_product_of_unknown_strength_is_told(tasting):
    products = dict(tasting.site.products)
    products["ponche"] = replace(
        products["blanco"], id="ponche", names={"en": "Punch"}, abv_basis="not_known"
    )
    assert told(tasting, products=products) == [
        "The strength of Punch is not known: it counts as the spirit before fruit and water."
    ]
