"""Readings become volume and pure alcohol at 20 °C, as whole millilitres."""

from __future__ import annotations

import pytest

from kiosk.production.records import measuring
from kiosk.production.records.faults import ValueFault

WARM = {"volume_l": 1000.0, "volume_temperature_c": 30.0, "temperature_c": 30.0}


def test_a_warm_volume_is_kept_as_it_would_be_at_20() -> None:
    # 1000 L of 63 % vol at 30 °C are 991 L at 20 °C (worked out by OIML R 22).
    told = measuring.spirit({**WARM, "scale": "density_meter", "reading": 63.0})
    assert told["volume20_ml"] == pytest.approx(991_000, abs=500)
    assert told["alcohol_ml"] == pytest.approx(0.63 * told["volume20_ml"], abs=1)


def test_a_density_meter_is_never_corrected_again_and_a_glass_is() -> None:
    meter = measuring.abv_percent({"scale": "density_meter", "reading": 71.8, "temperature_c": 30.0})
    glass = measuring.abv_percent({"scale": "glass_abv20", "reading": 71.8, "temperature_c": 30.0})
    # "Corrected" once more at 30 °C, 71.8 becomes 68.5 (worked out by OIML R 22).
    assert (meter, round(glass, 1)) == (71.8, 68.5)


def test_a_proof_glass_is_read_in_proof() -> None:
    abv = measuring.abv_percent({"scale": "glass_proof60", "reading": 120.0, "temperature_c": 15.5556})
    assert abv == pytest.approx(60.1, abs=0.1)


WEIGHED = {"how": "weight", "fill": "F-1", "scale": "density_meter", "reading": 60.0, "temperature_c": 20.0}


def test_a_weighed_cask_is_its_weight_less_the_tare() -> None:
    # 60 % vol weighs 0.9089 kg/L at 20 °C (OIML R 22), in air a thousandth less: 100 kg are 110.1 L.
    told = measuring.gauged({**WEIGHED, "gross_kg": 145.0}, {"F-1": 45_000}.get)
    assert told["volume20_ml"] == pytest.approx(110_130, abs=60)
    assert told["alcohol_ml"] == pytest.approx(0.6 * told["volume20_ml"], abs=1)


def test_a_cask_without_a_tare_cannot_be_weighed() -> None:
    with pytest.raises(ValueFault):
        measuring.gauged({**WEIGHED, "gross_kg": 145.0}, lambda fill: None)


@pytest.mark.parametrize(
    ("into", "column", "measure"),
    [("load", "cane_kg", "cane_g"), ("wash", "sugar_kg", "sugar_g"), ("fill", "alcohol_l", "alcohol_ml")],
)
def test_the_measure_of_a_draw_is_its_destinations(into: str, column: str, measure: str) -> None:
    cells = {"to_kind": into, "cane_kg": None, "sugar_kg": None, "alcohol_l": None, column: 1.5}
    assert measuring.drawn(cells) == {"measure": measure, "amount": 1500}
