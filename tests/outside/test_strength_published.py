"""Strength against published values; the source stands beside each."""

from __future__ import annotations

import math

import pytest

from kiosk.figures import strength as s
from kiosk.figures.errors import FigureError
from kiosk.figures.strength.mixture import FREEZING

F60 = s.PROOF_REFERENCE_C


def celsius(temperature_f: float) -> float:
    return (temperature_f - 32.0) / 1.8


def in_air(density_kg_m3: float) -> float:
    """Specific gravity in air against water at 60 °F, as US tables print it."""
    return (density_kg_m3 - 1.2) / (s.density(0.0, F60) - 1.2)


@pytest.mark.parametrize(
    ("mass_percent", "temperature_c", "published"),
    [
        (31.0, 13.0, 956.42),  # OIML R 22 (1975), as quoted in public material
        (88.0, -10.0, 848.57),  # OIML R 22 (1975), as quoted in public material
        (100.0, 20.0, 789.24),  # OIML R 22 (1975), erratum
        (0.0, 20.0, 998.20),  # OIML R 22 (1975), coefficient A1
        (100.0, 40.0, 771.93),  # OIML R 22 (1975), secondary quotation
    ],
)
def test_density(mass_percent: float, temperature_c: float, published: float) -> None:
    assert round(s.density(mass_percent / 100.0, temperature_c), 2) == pytest.approx(published, abs=0.0051)


def test_mass_fraction_of_a_density() -> None:
    """OIML R 22 (1975), as quoted: 848.4 kg/m3 at 20 °C is 77.96 % mass."""
    p = s.mass_fraction(848.4, 20.0)
    assert round(100.0 * p, 2) == 77.96
    assert round(s.abv_percent(p), 2) == pytest.approx(83.80, abs=0.0051)  # reckoned from the same formula


# Reckoned from OIML R 22 (1975) apart from this code: % vol, kg/m3 at 20 °C, % mass.
@pytest.mark.parametrize(
    ("abv", "density", "mass_percent"),
    [
        (10.0, 984.71, 8.015),
        (20.0, 973.56, 16.214),
        (40.0, 948.05, 33.300),
        (50.0, 930.14, 42.426),
        (60.0, 909.11, 52.088),
        (70.0, 885.56, 62.386),
        (96.0, 807.42, 93.838),
    ],
)
def test_strength_by_volume(abv: float, density: float, mass_percent: float) -> None:
    p = s.mass_fraction_of_abv(abv)
    assert s.density(p, 20.0) == pytest.approx(density, abs=0.006)
    assert 100.0 * p == pytest.approx(mass_percent, abs=0.0006)


@pytest.mark.parametrize(("temperature_c", "density"), [(10.0, 954.52), (30.0, 941.19)])
def test_density_of_40_per_cent_away_from_20_c(temperature_c: float, density: float) -> None:
    """Reckoned from OIML R 22 (1975) apart from this code."""
    assert s.density(s.mass_fraction_of_abv(40.0), temperature_c) == pytest.approx(density, abs=0.006)


def test_grams_of_ethanol_in_100_ml_of_40_per_cent() -> None:
    """Belgian pharmacy note after the European Pharmacopoeia: 31.57 g per 100 mL."""
    grams = s.mass_of_volume(0.1, 40.0, 20.0, in_air=False) * 1000.0 * s.mass_fraction_of_abv(40.0)
    assert round(grams, 2) == 31.57


# USP 29, alcoholometric table, 15.56 °C: % vol, % mass, specific gravity 15.56/15.56 in air.
@pytest.mark.parametrize(
    ("abv", "mass_percent", "gravity"), [(10, 8.05, 0.9866), (20, 16.27, 0.9759), (30, 24.67, 0.9653)]
)
def test_usp_alcoholometric_table(abv: float, mass_percent: float, gravity: float) -> None:
    p = s.mass_fraction_of_abv(abv, F60)
    assert round(100.0 * p, 2) == mass_percent
    assert round(in_air(s.density(p, F60)), 4) == gravity


# 27 CFR part 30, Table 6 (secondary transcription): proof, parts of water, specific
# gravity in air. Within 3 in the last printed digit but one: the US tables rest on older data.
@pytest.mark.parametrize(
    ("proof", "water", "gravity"),
    [
        (80, 63.42, 0.95172),
        (100, 53.73, 0.93418),
        (112, 47.75, None),
        (120, 43.71, 0.91333),
        (188, 7.36, None),
        (191, 5.59, None),
    ],
)
def test_us_table_6(proof: float, water: float, gravity: float | None) -> None:
    p = s.mass_fraction_of_abv(s.abv_of_proof(proof))
    rho = s.density(p, F60)
    assert 100.0 * rho * (1.0 - p) / s.density(0.0, F60) == pytest.approx(water, abs=0.01)
    assert gravity is None or in_air(rho) == pytest.approx(gravity, abs=3e-5)


def test_proof_spirit_holds_half_its_volume_of_ethanol_of_the_legal_gravity() -> None:
    """27 CFR 30.11: specific gravity of ethanol 0.7939 at 60 °F, in vacuum, water at 60 °F being 1."""
    assert s.density(1.0, F60) / s.density(0.0, F60) == pytest.approx(0.7939, abs=1e-4)
    assert s.abv_percent(s.mass_fraction_of_abv(s.abv_of_proof(100.0)), F60) == pytest.approx(50.0, abs=1e-9)


def gallons_per_pound(proof: float) -> float:
    return s.volume_of_mass(s.POUND_KG, s.abv_of_proof(proof), F60) / s.WINE_GALLON_L


def test_water_by_weight() -> None:
    """27 CFR 30.41: 0.120074 gal/lb; 21.161: 8.32823 lb/gal, in air at 60 °F. The rule's
    weights in air are brass, not the 8000 kg/m3 of OIML: 2 parts in 100 000."""
    assert gallons_per_pound(0.0) == pytest.approx(0.120074, rel=3e-5)
    assert 1.0 / gallons_per_pound(0.0) == pytest.approx(8.32823, rel=3e-5)


# 27 CFR 30.62 to 30.65. The legal tables print five digits and rest on older
# densities: within 1 part in 10 000.
@pytest.mark.parametrize(
    ("computed", "published"),
    [
        (gallons_per_pound(190.0), 0.14718),  # 30.64
        (s.proof_gallons(gallons_per_pound(190.0), 190.0), 0.27964),  # 30.64
        (81_000 * gallons_per_pound(190.0), 11_921.6),  # 30.64
        (s.proof_gallons(81_000 * gallons_per_pound(190.0), 190.0), 22_650.8),  # 30.64
        (s.proof_gallons(60_378 * gallons_per_pound(190.0), 190.0), 16_884.1),  # 30.63
        (s.proof_gallons(1_000 * gallons_per_pound(200.0), 200.0), 302.58),  # 30.64
        (100 / gallons_per_pound(190.0), 679.43),  # 30.65
        (100 / s.proof_gallons(gallons_per_pound(190.0), 190.0), 357.60),  # 30.65, proof gallons
    ],
)
def test_us_gauging_by_weight(computed: float, published: float) -> None:
    assert computed == pytest.approx(published, rel=1.1e-4)


def test_us_gauging_by_weight_as_it_is_written() -> None:
    """27 CFR 30.62: 334 lb of 96 proof are 42.8 wine gallons."""
    assert s.round_half_up(334 * gallons_per_pound(96.0), 1) == 42.8


# 27 CFR 30.44: proof, gallons in the container, the weight to fill in pounds and ounces as the rule
# makes it (a part of an ounce is a whole one), the same in hundredths, proof gallons.
@pytest.mark.parametrize(
    ("proof", "gallons", "pounds", "ounces", "in_hundredths", "proof_gallons"),
    [
        (190, 1, 6, 13, 6.81, 1.9),
        (190, 2, 13, 10, 13.63, 3.8),
        (190, 5, 34, 0, 34.00, 9.5),
        (190, 10, 68, 0, 68.00, 19.0),
        (192, 1, 6, 13, 6.81, 1.9),
        (192, 2, 13, 9, 13.56, 3.8),
        (192, 5, 33, 13, 33.81, 9.6),
        (192, 10, 67, 10, 67.63, 19.2),
        (200, 1, 6, 10, 6.63, 2.0),
        (200, 2, 13, 4, 13.25, 4.0),
        (200, 5, 33, 1, 33.06, 10.0),
        # 200 proof, 10 gallons: 66 lb 2 oz is printed as 66.12, against 13 lb 10 oz as 13.63.
    ],
)
def test_us_weights_of_containers(
    proof: float, gallons: float, pounds: int, ounces: int, in_hundredths: float, proof_gallons: float
) -> None:
    whole, part = divmod(gallons / gallons_per_pound(proof), 1.0)
    up = math.ceil(s.round_half_up(part, 2) * 16)
    assert (whole + up // 16, up % 16) == (pounds, ounces)
    assert s.round_half_up(pounds + ounces / 16, 2) == in_hundredths
    assert s.round_half_up(s.proof_gallons(gallons, proof), 1) == proof_gallons


# 27 CFR 30.67, Table 7, and the factor in 30.51: gallons at 60 °F of one gallon as
# measured, to three decimals; half a step is allowed where the rule interpolates.
@pytest.mark.parametrize(
    ("proof", "temperature_f", "factor", "within"),
    [
        (190.0, 76.0, 0.991, 0.0005),
        (180.0, 50.0, 1.006, 0.0005),
        (180.0, 52.0, 1.005, 0.0005),
        (180.0, 51.0, 1.0055, 0.0005),
        (180.0, 54.0, 1.003, 0.0005),
        (180.0, 53.0, 1.004, 0.0005),
        (110.0, 46.0, 1.006, 0.0005),
        (115.0, 46.0, 1.007, 0.0005),
        (86.8, 72.0, 0.995, 0.0005),
    ],
)
def test_us_volume_factors(proof: float, temperature_f: float, factor: float, within: float) -> None:
    found = s.volume_at(1.0, s.abv_of_proof(proof), celsius(temperature_f), F60)
    assert found == pytest.approx(factor, abs=within)


def test_us_gauging_by_volume() -> None:
    """27 CFR 30.51: 88 in at 48.96 gal/in, factor 0.995, 86.8 proof."""
    assert s.round_half_up(88 * 48.96 * 0.995, 2) == 4286.94
    assert s.proof_gallons(4286.94, 86.8) == pytest.approx(3721.06392, abs=1e-9)
    assert s.round_half_up(s.proof_gallons(4286.94, 86.8), 1) == 3721.1


def test_us_volume_factor_of_any_proof() -> None:
    """27 CFR 30.67: 112 proof at 47 °F by the printed rule: 1.0055 at 110 proof and 2/5 of the step of
    0.001 to 115 proof. The cells are to 0.0005."""
    found = s.volume_at(1.0, s.abv_of_proof(112.0), celsius(47.0), F60)
    assert found == pytest.approx(1.0055 + 0.001 / 5 * 2, abs=0.0006)


def test_us_capacity_of_a_container() -> None:
    """27 CFR 30.67: 55.1 wine gallons of 190 proof at 60 °F fill 55.6 at 76 °F."""
    filled = s.volume_at(55.1, s.abv_of_proof(190.0), F60, celsius(76.0))
    assert s.round_half_up(filled, 1) == 55.6


def test_us_volume_at_60_f() -> None:
    """27 CFR 30.67: 1 000 gal of 190 proof at 76 °F are 991. TTB: 100 gal at 40 % are 80 proof gallons."""
    assert round(s.volume_at(1000.0, s.abv_of_proof(190.0), celsius(76.0), F60)) == 991
    assert s.proof_gallons(100.0, 80.0) == 80.0


def test_us_example_of_a_corrected_reading() -> None:
    """27 CFR 30.23: 192.85 proof read at 72.10 °F, corrections -0.03 of the hydrometer and +0.05 °F of
    the thermometer, is 192.82 at 72.15 °F: 189.972 from the table, stated 190.0."""
    certificate = s.Certificate(scale=-0.03, thermometer_c=0.05 / 1.8)
    found = s.true_proof(192.85, 72.10, certificate=certificate)
    assert found == pytest.approx(s.true_proof(192.82, 72.15), abs=1e-9)
    assert found == pytest.approx(189.972, abs=0.1)
    assert s.stated_proof(found) == 190.0


# 27 CFR 30.23 and 30.61 quote Table 1: reading, °F, true proof.
@pytest.mark.parametrize(
    ("reading", "temperature_f", "table"),
    [(193, 72, 190.2), (192, 72, 189.1), (192, 73, 188.9), (193, 75, 189.5)],
)
def test_us_table_cells_quoted_in_the_example(reading: float, temperature_f: float, table: float) -> None:
    assert s.stated_proof(s.true_proof(reading, temperature_f)) == pytest.approx(table, abs=0.1001)


def test_a_litre_in_us_gallons() -> None:
    """TTB conversion page: 0.264172 gallons to the litre; 9 L are 2.377548."""
    assert round(1.0 / s.WINE_GALLON_L, 6) == 0.264172
    gallons = 9.0 / s.WINE_GALLON_L
    assert gallons == pytest.approx(2.377548, abs=1e-5)


def test_a_tank_at_30_c_holds_less_than_it_shows() -> None:
    """Reckoned from OIML R 22 (1975) apart from this code: 1 000 L of 63 % at 30 °C are 991 L at 20 °C."""
    assert round(s.volume_at(1000.0, 63.0, 30.0, 20.0)) == 991


# Lange's Handbook of Chemistry, 15th ed., table 5.13: specific gravity 20/4 °C and
# freezing point in °F; its columns in % mass and °C are what the code keeps.
LANGE = [
    (0.99363, 30.2),
    (0.98971, 28.4),
    (0.98658, 26.6),
    (0.98006, 23.0),
    (0.97670, 21.0),
    (0.97336, 18.5),
    (0.97194, 16.3),
    (0.97024, 15.1),
    (0.96823, 12.9),
    (0.96578, 10.0),
    (0.96283, 6.8),
    (0.95914, 3.2),
    (0.95400, -2.0),
    (0.94715, -10.5),
]


@pytest.mark.parametrize(("row", "gravity", "freezing_f"), [(i, *cells) for i, cells in enumerate(LANGE, 1)])
def test_the_freezing_line_agrees_with_its_tables_other_columns(
    row: int, gravity: float, freezing_f: float
) -> None:
    """The kept column has 0.1 % mass, so 2 in the fourth decimal of gravity; 0.1 °C."""
    p, freezing_c = FREEZING[row]
    assert s.density(p, 20.0) / 999.972 == pytest.approx(gravity, abs=2e-4)
    assert freezing_c == pytest.approx(celsius(freezing_f), abs=0.11)


@pytest.mark.parametrize(("p", "freezing_c"), [(p, t) for p, t in FREEZING if -20.0 < t < 0.0])
def test_a_mixture_is_liquid_down_to_its_freezing_point(p: float, freezing_c: float) -> None:
    assert s.density(p + 1e-9, freezing_c) > 0.0
    with pytest.raises(FigureError) as caught:
        s.density(p, freezing_c - 0.01)
    assert caught.value.reason == "freezing"
