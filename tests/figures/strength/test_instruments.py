from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures import strength as s
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal

STRENGTHS = st.floats(0.0, 100.0)


@given(st.floats(5.0, 95.0))
def test_a_glass_reading_at_its_own_temperature_is_true(abv: float) -> None:
    assert s.true_abv(abv, 20.0) == pytest.approx(abv, abs=1e-9)
    assert s.true_proof(2 * abv, 60.0) == pytest.approx(2 * abv, abs=1e-9)
    assert s.true_abv(abv, 15.0, s.GLASS_ABV_15) == pytest.approx(
        s.abv_percent(s.mass_fraction_of_abv(abv, 15.0)), abs=1e-9
    )


@given(st.floats(10.0, 90.0), st.floats(20.5, 40.0))
def test_warm_spirit_reads_too_strong(abv: float, t: float) -> None:
    assert s.true_abv(abv, t) < abv


@given(STRENGTHS, st.floats(-20.0, 40.0))
def test_a_density_meter_is_never_corrected_again(abv: float, t: float) -> None:
    assert s.true_abv(abv, t, s.DENSITY_METER) == abv
    assert s.reading_abv_percent("density_meter", abv, t) == abv
    assert s.true_proof(2 * abv, 80.0, s.DENSITY_METER) == 2 * abv


def test_a_reading_corrected_twice_would_have_been_three_points_off() -> None:
    """71.8 % vol at 30 °C: 68.5 by glass, 71.8 by a meter that has corrected already."""
    assert s.true_abv(71.8, 30.0) == pytest.approx(68.5, abs=0.05)
    assert s.true_abv(71.8, 30.0, s.DENSITY_METER) == 71.8


def test_the_reach_in_fahrenheit_is_the_reach_in_celsius() -> None:
    assert s.true_proof(120.0, 104.0) < 120.0 < s.true_proof(120.0, -4.0)


@given(st.sampled_from(["glass_abv20", "glass_abv15"]), st.floats(20.0, 80.0), st.floats(5.0, 39.0))
def test_records_go_through_the_same_correction(scale: str, reading: float, t: float) -> None:
    assert s.reading_abv_percent(scale, reading, t) == s.true_abv(reading, t, s.Instrument(scale))


@given(st.floats(40.0, 160.0), st.floats(5.0, 39.0))
def test_proof_records_are_read_in_proof_and_celsius(reading: float, t: float) -> None:
    by_hand = s.abv_of_proof(s.true_proof(reading, t * 1.8 + 32.0))
    assert s.reading_abv_percent("glass_proof60", reading, t) == pytest.approx(by_hand, abs=1e-12)


def test_the_corrections_of_scale_and_thermometer_are_added_before_anything_else() -> None:
    certified = s.Certificate(scale=-0.2, thermometer_c=0.3)
    assert s.true_abv(60.0, 27.0, certificate=certified) == pytest.approx(s.true_abv(59.8, 27.3), abs=1e-12)
    assert s.true_abv(60.0, 27.0, s.GLASS_ABV_15, certified) == pytest.approx(
        s.true_abv(59.8, 27.3, s.GLASS_ABV_15), abs=1e-12
    )


def test_a_thermometers_correction_in_celsius_is_nine_fifths_in_fahrenheit() -> None:
    """27 CFR 30.23: 192.85 at 72.10 °F, corrections -0.03 and +0.05 °F, is 192.82 at 72.15 °F."""
    certified = s.Certificate(scale=-0.03, thermometer_c=0.05 / 1.8)
    assert s.true_proof(192.85, 72.10, certificate=certified) == pytest.approx(
        s.true_proof(192.82, 72.15), abs=1e-9
    )


def test_a_density_meter_has_an_error_of_scale_but_none_of_warmth() -> None:
    certified = s.Certificate(scale=0.05, thermometer_c=0.5)
    assert s.true_abv(60.0, 30.0, s.DENSITY_METER, certified) == pytest.approx(60.05)
    assert s.true_proof(120.0, 80.0, s.DENSITY_METER, certified) == pytest.approx(120.05)


@pytest.mark.parametrize(("scale", "reading"), [("glass_abv20", 60.0), ("glass_proof60", 120.0)])
def test_records_are_corrected_by_the_certificate_too(scale: str, reading: float) -> None:
    certified = s.Certificate(scale=-0.2, thermometer_c=0.3)
    found = s.reading_abv_percent(scale, reading, 27.0, certified)
    assert found == pytest.approx(s.reading_abv_percent(scale, reading - 0.2, 27.3), abs=1e-9)
    assert found != pytest.approx(s.reading_abv_percent(scale, reading, 27.0), abs=0.05)


@pytest.mark.parametrize(
    ("valid_until", "on", "run_out"),
    [
        (date(2026, 6, 16), date(2026, 6, 16), False),
        (date(2026, 6, 16), date(2026, 6, 17), True),
        (None, date(2099, 1, 1), False),
    ],
)
def test_a_certificate_holds_through_its_last_day(valid_until: date | None, on: date, run_out: bool) -> None:
    assert s.Certificate(valid_until=valid_until).has_run_out(on) is run_out


def test_a_certificate_that_has_run_out_still_corrects() -> None:
    """Whether to trust it is for people: the date is data."""
    old = s.Certificate(scale=-0.2, valid_until=date(2001, 1, 1))
    assert s.true_abv(60.0, 20.0, certificate=old) == pytest.approx(59.8)


def test_the_residue_of_25_ml_counts_four_times() -> None:
    """27 CFR 30.32(b): 0.125 g from 25 mL are 0.50 g in 100 mL, which hide two degrees of proof."""
    solids = s.solids_g_per_100ml(0.125)
    assert solids == 0.5
    assert s.true_proof_with_solids(90.0, solids) - 90.0 == pytest.approx(2.0)


def test_a_sample_of_another_size_is_reckoned_to_100_ml() -> None:
    assert s.solids_g_per_100ml(0.2, 50.0) == pytest.approx(0.4)


# 27 CFR 30.31: over 400 to 600 mg in 100 mL obscuration is added; 30.32(a): from 80 to 100 proof.
@pytest.mark.parametrize(
    ("apparent", "solids", "true"),
    [
        (90.0, 0.0, 90.0),
        (90.0, 0.4, 90.0),
        (90.0, 0.401, 91.604),
        (90.0, 0.6, 92.4),
        (80.0, 0.5, 82.0),
        (100.0, 0.5, 102.0),
        (140.0, 0.4, 140.0),
    ],
)
def test_solids_hide_proof(apparent: float, solids: float, true: float) -> None:
    assert s.true_proof_with_solids(apparent, solids) == pytest.approx(true)


@pytest.mark.parametrize(
    ("apparent", "solids", "field", "reason"),
    [
        (90.0, 0.601, "solids_g_per_100ml", "distil"),
        (79.9, 0.5, "proof", "out_of_range"),
        (100.1, 0.5, "proof", "out_of_range"),
        (200.1, 0.0, "proof", "out_of_range"),
        (90.0, -0.1, "solids_g_per_100ml", "out_of_range"),
        (90.0, float("nan"), "solids_g_per_100ml", "out_of_range"),
    ],
)
def test_where_the_rule_ends_it_says_why(apparent: float, solids: float, field: str, reason: str) -> None:
    with pytest.raises(FigureError) as caught:
        s.true_proof_with_solids(apparent, solids)
    assert (caught.value.field, caught.value.reason) == (field, reason)


def test_too_much_sugar_sends_one_to_the_laboratory() -> None:
    with pytest.raises(FigureError, match="distil"):
        s.true_proof_with_solids(60.0, 15.0)


@pytest.mark.parametrize(("residue", "sample", "field"), [(-0.1, 25.0, "residue_g"), (0.1, 0.0, "sample_ml")])
def test_a_residue_is_weighed_from_a_sample(residue: float, sample: float, field: str) -> None:
    with pytest.raises(FigureError) as caught:
        s.solids_g_per_100ml(residue, sample)
    assert caught.value.field == field


VOL, WARM = Bounds(0, 100, "% vol"), Bounds(-20, 40, "°C")
PROOF, FAHRENHEIT = Bounds(0, 200, "proof"), Bounds(-4, 104, "°F")
EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: s.true_abv(100.001, 20.0), "reading_abv_percent", VOL),
    (lambda: s.true_abv(-0.001, 20.0), "reading_abv_percent", VOL),
    (lambda: s.true_abv(100.0, 20.0, certificate=s.Certificate(0.001)), "reading_abv_percent", VOL),
    (lambda: s.true_abv(60.0, 40.001), "temperature_c", WARM),
    (lambda: s.true_abv(60.0, -20.001), "temperature_c", WARM),
    (lambda: s.true_abv(60.0, 40.0, certificate=s.Certificate(0.0, 0.001)), "temperature_c", WARM),
    (lambda: s.true_proof(200.001, 60.0), "reading_proof", PROOF),
    (lambda: s.true_proof(-0.001, 60.0), "reading_proof", PROOF),
    (lambda: s.true_proof(120.0, 104.001), "temperature_f", FAHRENHEIT),
    (lambda: s.true_proof(120.0, -4.001), "temperature_f", FAHRENHEIT),
    (lambda: s.reading_abv_percent("glass_proof60", 120.0, 40.001), "temperature_c", WARM),
    (lambda: s.reading_abv_percent("glass_proof60", 120.0, -20.001), "temperature_c", WARM),
    (lambda: s.solids_g_per_100ml(-1e-9), "residue_g", Bounds(0, unit="g")),
    (lambda: s.solids_g_per_100ml(0.1, 0.0), "sample_ml", Bounds(0, unit="mL", above=True)),
    (lambda: s.true_proof_with_solids(200.001, 0.0), "proof", PROOF),
    (lambda: s.true_proof_with_solids(-0.001, 0.0), "proof", PROOF),
    (lambda: s.true_proof_with_solids(90.0, -1e-9), "solids_g_per_100ml", Bounds(0, unit="g/100 mL")),
    (lambda: s.true_proof_with_solids(79.999, 0.5), "proof", Bounds(80, 100, "proof")),
    (lambda: s.true_proof_with_solids(100.001, 0.5), "proof", Bounds(80, 100, "proof")),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_an_unknown_instrument_is_refused_with_those_that_fit() -> None:
    assert refusal(lambda: s.true_abv(60.0, 20.0, s.GLASS_PROOF_60)) == (
        "instrument",
        "out_of_range",
        ("glass_abv20", "glass_abv15", "density_meter"),
    )
    assert refusal(lambda: s.true_proof(120.0, 60.0, s.GLASS_ABV_20)) == (
        "instrument",
        "out_of_range",
        ("glass_proof60", "density_meter"),
    )
    assert refusal(lambda: s.reading_abv_percent("float", 60.0, 20.0)) == (
        "scale",
        "out_of_range",
        tuple(s.Instrument),
    )
    assert refusal(lambda: s.true_proof_with_solids(90.0, 0.601)) == (
        "solids_g_per_100ml",
        "distil",
        Bounds(high=0.6, unit="g/100 mL"),
    )


def test_the_edges_themselves_are_answered() -> None:
    assert s.true_abv(0.0, 20.0) == pytest.approx(0.0, abs=1e-9)
    assert s.true_abv(100.0, -20.0, s.DENSITY_METER) == s.true_abv(100.0, 40.0, s.DENSITY_METER) == 100.0
    assert s.true_proof(0.0, 60.0) == pytest.approx(0.0, abs=1e-9)
    assert s.true_proof(200.0, 104.0, s.DENSITY_METER) == s.true_proof(200.0, -4.0, s.DENSITY_METER) == 200.0
    assert s.reading_abv_percent("glass_proof60", 120.0, 40.0) < 60.0
    assert s.reading_abv_percent("glass_proof60", 120.0, -20.0) > 60.0
    assert s.true_proof_with_solids(0.0, 0.0) == 0.0
    assert s.true_proof_with_solids(200.0, 0.4) == 200.0
    assert s.solids_g_per_100ml(0.0) == 0.0


def test_glass_grows_by_25_millionths_a_degree() -> None:
    """OIML R 22 (1975), tables VIII and IX: by hand, 60 % vol read at 30 °C."""
    shown = s.density(s.mass_fraction_of_abv(60.0), 20.0) * (1.0 - 25e-6 * 10.0)
    by_hand = s.abv_percent(s.mass_fraction(shown, 30.0))
    assert s.true_abv(60.0, 30.0) == pytest.approx(by_hand, abs=1e-12)
