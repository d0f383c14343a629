"""What goes into a wash, a run and a vat, measured as each is measured."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from kiosk.figures.making import gravity_at_20, specific_gravity, wash_abv_percent
from kiosk.figures.strength import density, volume_at
from kiosk.production.forms.definitions import FORMS
from kiosk.production.records.faults import FaultCode, ValueFault
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.conftest import Enter
from tests.production.records.test_submission import AT, HEADS, METER, RIGHT, faults_of, part

JUICE_WARM = density(0.0, 30.0) / density(0.0, 20.0)


def drawn_into(store: Store, kind: str, code: str) -> dict[str, tuple[str, int, int | None]]:
    """Return measure, amount and volume of what was drawn into a batch, by where it came from."""
    b, d = t.batches.c, t.draws.c
    with store.read() as session:
        to = session.scalars(select(b.id).where(b.kind == kind, b.code == code)).one()
        rows = select(b.code, d.measure, d.amount, d.volume_ml).join(t.draws, d.from_id == b.id)
        return {row[0]: (row[1], row[2], row[3]) for row in session.execute(rows.where(d.to_id == to))}


def test_the_sugar_drawn_into_a_wash_is_that_of_its_juice_at_20_degrees(fill_in: Enter, store: Store) -> None:
    """Sugar = litres at 20 °C x density x Brix / 100."""
    fill_in("wash-set", **RIGHT["wash-set"])
    measure, grams, volume_ml = drawn_into(store, "wash", "W-2")["L-1"]
    assert measure == "sugar_g"
    assert volume_ml == pytest.approx(10_000 * JUICE_WARM, abs=1)
    assert grams == pytest.approx(10_000 * JUICE_WARM * 0.9982 * specific_gravity(16) * 0.16, abs=1)
    with store.read() as session:
        volume = session.scalar(select(t.washes.c.volume_ml).where(t.washes.c.ended_at.is_(None)))
    assert volume == pytest.approx(20_000 * JUICE_WARM, abs=1)


def test_a_charge_is_a_list_of_receipts(fill_in: Enter, store: Store) -> None:
    fill_in("run-start", **RIGHT["run-start"])
    drawn = drawn_into(store, "run", "SR-2")
    assert drawn["SR-1-HD"] == ("alcohol_ml", 780, 1000)
    assert drawn["SR-1-TL"] == ("alcohol_ml", 10_000, 40_000)


def test_a_wash_is_as_strong_as_its_gravities_say(fill_in: Enter, store: Store) -> None:
    """Balling, from 1.0630 to 0.9960 read at 30 °C: no hydrometer reads alcohol in a wash."""
    charge = part(1, **{"from_kind": "wash", "from": "W-1", "volume_l": "100", "volume_temperature_c": "30"})
    fill_in("run-start", confirmed=True, code="WR-2", still="WS", kind="wash", at=AT, **charge)
    abv = wash_abv_percent(gravity_at_20(1.0630, 30), gravity_at_20(0.9960, 30))
    _measure, alcohol_ml, volume_ml = drawn_into(store, "run", "WR-2")["W-1"]
    assert volume_ml == pytest.approx(volume_at(100_000, abv, 30, 20), abs=1)
    assert alcohol_ml == pytest.approx(volume_ml * abv / 100, abs=1)


def test_water_in_a_vat_brings_no_alcohol(fill_in: Enter, store: Store) -> None:
    fill_in("received", code="H2O", kind="water", what="spring water", at="2026-06-15 08:00")
    water = {"from_kind": "received", "from": "H2O", "volume_l": "1", "volume_temperature_c": "20"}
    parts = {**part(1, **HEADS, reading="78", temperature_c="28"), **part(2, **water)}
    vat = {"code": "V-3", "vat": "V1", "at": AT, "volume_l": "1.96", "volume_temperature_c": "20"}
    fill_in("blend", **vat, **METER, reading="39.5", **parts)
    assert drawn_into(store, "blend", "V-3")["H2O"][:2] == ("alcohol_ml", 0)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"from_1": ""}, "from_1"),
        ({"from_2": "SR-9"}, "from_2"),
        ({"reading_2": ""}, "reading_2"),
        ({"reading_2": "", "temperature_c_2": "", "instrument": ""}, "instrument"),
        ({"volume_l_2": "much"}, "volume_l_2"),
        ({"from_2": "SR-1-HD"}, "from_2"),
    ],
)
def test_what_is_wrong_is_told_in_its_own_row(fill_in: Enter, wrong: dict[str, str], field: str) -> None:
    assert field in faults_of(fill_in, "run-start", **{**RIGHT["run-start"], **wrong})


def test_a_run_without_a_charge_is_refused(fill_in: Enter) -> None:
    bare = {name: value for name, value in RIGHT["run-start"].items() if not name.endswith(("_1", "_2"))}
    assert "from_kind_1" in faults_of(fill_in, "run-start", **bare)


def test_a_receiver_is_gauged_at_20_degrees_and_drawn_from_its_run(fill_in: Enter, store: Store) -> None:
    fill_in("receiver", **RIGHT["receiver"])
    assert drawn_into(store, "receiver", "SR-1-PT")["SR-1"] == ("alcohol_ml", 1000, 200_000)
    with store.read() as session:
        row = session.execute(select(t.receivers).where(t.receivers.c.cut == "pot")).one()
    assert (row.fate, row.alcohol_ml, row.volume20_ml) == ("destroyed", 1000, 200_000)


def test_spirit_from_elsewhere_is_measured(fill_in: Enter) -> None:
    bare = {**RIGHT["received"], "volume_l": ""}
    assert "volume_l" in faults_of(fill_in, "received", **bare)


def test_a_topped_up_cask_is_a_new_fill_of_the_rest_and_of_what_was_added(
    fill_in: Enter, store: Store
) -> None:
    """159 L of 60.1 % vol once full, of which 1 L of 77 % vol was added."""
    fill_in("top-up", **RIGHT["top-up"])
    assert drawn_into(store, "fill", "F-3") == {
        "F-1": ("alcohol_ml", 95_559 - 770, 158_000),
        "SR-1-HD": ("alcohol_ml", 770, 1000),
    }
    with store.read() as session:
        row = session.execute(select(t.gauges).order_by(t.gauges.c.id.desc()).limit(1)).one()
    assert (row.how, row.volume20_ml, row.alcohol_ml) == ("dip", 159_000, 95_559)


@pytest.mark.parametrize(
    ("volume", "reading", "refused"), [("1", "76", True), ("0.9", "78", True), ("1", "77", False)]
)
def test_a_topped_up_cask_holds_no_less_than_was_added(
    fill_in: Enter, volume: str, reading: str, refused: bool
) -> None:
    cells = {**RIGHT["top-up"], "volume_l": volume, "reading": reading}
    if refused:
        assert faults_of(fill_in, "top-up", **cells) == {"volume_l": FaultCode.LESS_THAN_ADDED}
    else:
        assert fill_in("top-up", confirmed=True, **cells).ids


def test_a_milled_load_is_its_juice_at_20_degrees_and_the_cane_of_its_field(
    fill_in: Enter, store: Store
) -> None:
    fill_in("mill-load", **RIGHT["mill-load"])
    assert drawn_into(store, "load", "L-2") == {"HILL": ("cane_g", 900_000, None)}
    with store.read() as session:
        row = session.execute(select(t.loads).order_by(t.loads.c.id.desc()).limit(1)).one()
    assert row.juice_ml == pytest.approx(500_000 * JUICE_WARM, abs=1)
    assert (row.cane_g, row.brix_e2) == (900_000, 1700)


def test_a_lot_is_bottled_on_its_day_out_of_what_was_measured(fill_in: Enter, store: Store) -> None:
    fill_in("bottling", **{**RIGHT["bottling"], "at": "2026-06-15 23:30"})
    assert drawn_into(store, "lot", "BL-2") == {"SR-1-HD": ("alcohol_ml", 770, 1000)}
    with store.read() as session:
        row = session.execute(select(t.lots).order_by(t.lots.c.id.desc()).limit(1)).one()
    assert (str(row.bottled_on), row.bottles, row.bottle_ml, row.abv_e2) == ("2026-06-15", 2, 750, 4000)


def test_a_filled_cask_is_gauged_by_what_went_in(fill_in: Enter, store: Store) -> None:
    fill_in("cask-fill", **RIGHT["cask-fill"])
    assert drawn_into(store, "fill", "F-2") == {"SR-1-HD": ("alcohol_ml", 600, 1000)}


def test_water_that_was_measured_holds_no_alcohol_and_spirit_is_read(fill_in: Enter, store: Store) -> None:
    water = {"code": "H2O", "kind": "water", "what": "spring water", "at": "2026-06-15 08:00"}
    fill_in("received", **water, volume_l="100", volume_temperature_c="20")
    fill_in("received", **RIGHT["received"])
    with store.read() as session:
        amounts = select(t.received.c.volume20_ml, t.received.c.alcohol_ml).order_by(t.received.c.id)
        rows = [tuple(row) for row in session.execute(amounts)][-2:]
    assert rows == [(100_000, 0), (400_000, 248_000)]


@pytest.mark.parametrize(
    "name", ["volume_temperature_c", "temperature_c", "added_temperature_c", "added_reading_temperature_c"]
)
def test_spirit_is_measured_from_20_below_zero_to_40_degrees(name: str, site: Site) -> None:
    (field,) = (one for one in FORMS["top-up"].fields if one.name == name)
    assert [field.read(cell, site.zone) for cell in ("-20", "40")] == [-20.0, 40.0]
    for cell in ("-20.1", "40.1"):
        with pytest.raises(ValueFault):
            field.read(cell, site.zone)
