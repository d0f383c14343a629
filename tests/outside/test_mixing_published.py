"""Mixing against published values; the source stands beside each."""

from __future__ import annotations

import pytest

from kiosk.figures import strength as s

F60 = s.PROOF_REFERENCE_C


def at_15(abv_percent: float) -> float:
    """Return % vol at 20 °C of a strength stated at 15 °C."""
    return s.abv_percent(s.mass_fraction_of_abv(abv_percent, 15.0))


# Mass balance with OIML R 22 (1975), reckoned apart from this code: litres of water for 100 L at 20 °C.
@pytest.mark.parametrize(
    ("abv", "to", "water_l"),
    [(70, 40, 77.49), (65, 40, 64.41), (60, 40, 51.39), (96, 40, 147.05), (50, 40, 25.54), (90, 45, 105.18)],
)
def test_dilution_at_20_c(abv: float, to: float, water_l: float) -> None:
    assert s.dilute(100.0, abv, to).water_l == pytest.approx(water_l, abs=0.0051)


def test_without_contraction_one_would_add_too_little_water() -> None:
    """70 to 40: 175.0 L are made, so 75.0 L of water would seem enough."""
    found = s.dilute(100.0, 70.0, 40.0)
    assert found.volume_l == pytest.approx(175.0, abs=0.05)
    assert found.contraction_l == pytest.approx(77.49 - 75.0, abs=0.0051)


# OIML R 22 (1975), reckoned apart from this code: mL by which 100 mL of a mixture of ethanol and
# water are smaller than the ethanol and the water in them, at 20 °C.
@pytest.mark.parametrize(("abv", "missing_ml"), [(40, 3.349), (50, 3.649), (57.1, 3.667), (70, 3.369)])
def test_contraction_of_ethanol_and_water(abv: float, missing_ml: float) -> None:
    assert s.dilute(abv, 100.0, abv).contraction_l == pytest.approx(missing_ml, abs=6e-4)


def test_contraction_is_greatest_near_54_per_cent() -> None:
    greatest = max(range(1, 100), key=lambda abv: s.dilute(abv, 100.0, abv).contraction_l)
    assert greatest == pytest.approx(54, abs=1)


STRENGTHS = (100, 99, 98, 97, 96, 95, 90, 85, 80, 75, 70, 65, 60, 50)
# French dilution table after Gay-Lussac, strengths at 15 °C, volumes of water at 15 °C to be added to
# 100 volumes (a perfumers' and a teaching page carry the same table). Each row brings down to its key.
GAY_LUSSAC = """
95: 6.5 5.15 3.83 2.53 1.25
90: 13.25 11.83 10.43 9.07 7.73 6.41
85: 20.54 19.05 17.58 16.15 14.73 13.33 6.56
80: 28.59 27.01 25.47 23.95 22.45 20.95 13.79 6.83
75: 37.58 35.9 34.28 32.67 31.08 29.52 21.89 14.48 7.2
70: 47.75 45.98 44.25 42.54 40.85 39.18 31.05 23.14 15.35 7.64
65: 59.37 57.49 55.63 53.81 52 50.22 41.53 33.03 24.66 16.37 8.15
60: 72.82 70.8 68.8 - 64.92 63 53.65 44.48 35.44 26.47 17.58 8.76
55: 88.6 86.42 84.28 82.16 80.06 77.99 67.87 57.9 48.07 38.32 28.63 19.02 9.47
50: 107.44 105.08 102.75 100.44 98.15 95.89 84.71 73.9 63.04 52.43 41.73 31.25 -
45: 130.26 127.67 125.11 122.57 120.06 117.57 105.34 93.3 81.38 69.54 57.78 46.09 34.46 11.41
40: 158.56 155.68 152.84 150.02 147.22 144.46 130.8 117.34 104.01 90.76 77.58 64.48 51.43 25.55
35: 194.63 191.39 188.19 185.01 181.85 178.71 163.28 148.01 132.88 117.82 102.84 87.93 73.08 43.59
30: 242.38 238.67 234.99 231.33 227.7 224.08 206.22 188.57 171.05 153.61 - 118.94 101.71 67.45
25: 308.9 304.52 300.18 295.86 291.56 287.28 266.12 245.15 224.3 203.61 182.83 162.21 141.65 100.73
20: 408.5 403.13 397.79 392.47 387.17 381.9 355.8 329.84 304.01 278.26 252.58 226.98 201.43 150.55
"""
# A dash stands for a misprint of the web copy, as its neighbours and the mass balance show: 97 to 60
# (65.85 for 66.90), 60 to 50 (20.47 for 20.77), 70 to 30 (136.04 for 136.25). Rows below 20 are left
# out: some copies misprint them.
CELLS = [
    (abv, float(to), float(cell))
    for to, row in (line.split(":") for line in GAY_LUSSAC.strip().splitlines())
    for abv, cell in zip(STRENGTHS, row.split(), strict=False)
    if cell != "-"
]


def test_french_dilution_table() -> None:
    """The table rests on older densities: within 0.11 of a volume to 100."""
    assert len(CELLS) == 175
    misses = {
        (abv, to): s.dilute(100.0, at_15(abv), at_15(to), 15.0, 15.0, 15.0).water_l - cell
        for abv, to, cell in CELLS
    }
    assert {cell: miss for cell, miss in misses.items() if abs(miss) > 0.11} == {}
    assert sum(abs(miss) for miss in misses.values()) / len(misses) < 0.025


@pytest.mark.parametrize(("to", "ml"), [(90, 934), (70, 727), (50, 519), (20, 207)])
def test_pharmacopoeia_dilutions(to: float, ml: float) -> None:
    """British Pharmacopoeia: mL of ethanol 96 per cent (96.3 taken as mean) made up to 1000 mL; to 1 mL."""
    assert 1000.0 / s.dilute(1.0, 96.3, to).volume_l == pytest.approx(ml, abs=1.0)


def test_pharmacopoeia_by_weight() -> None:
    """Belgian pharmacy note after the European Pharmacopoeia: 100 g of 40 % vol take 35.36 g of 96.2 %.
    The note reckons with 33.27 g of ethanol in 100 g, R 22 with 33.30."""
    grams = 100.0 * s.mass_fraction_of_abv(40.0) / s.mass_fraction_of_abv(96.2)
    water = s.dilute(s.volume_of_mass(grams / 1000.0, 96.2, 20.0, in_air=False), 96.2, 40.0)
    assert grams == pytest.approx(35.36, abs=0.03)
    assert 1000.0 * water.water_kg == pytest.approx(100.0 - grams, abs=1e-9)


def test_diluted_alcohol_of_the_us_pharmacopeia() -> None:
    """USP 29: 500 mL of alcohol and 500 mL of water, both at 25 °C, make about 970 mL of
    41 to 42 % by mass, 48.4 to 49.5 % vol at 15.56 °C, specific gravity 0.935 to 0.937."""
    alcohol = s.abv_percent(s.mass_fraction_of_abv(95.0, F60))
    made = s.blend([s.Part(500.0, alcohol, 25.0), s.Part(500.0, 0.0, 25.0)], tank_c=25.0)
    p = s.mass_fraction_of_abv(made.abv_percent)
    assert made.volume_l == pytest.approx(970.0, abs=2.0)
    assert 0.41 <= p <= 0.42
    assert 48.4 <= s.abv_percent(p, F60) <= 49.5
    assert 0.935 <= (s.density(p, F60) - 1.2) / (s.density(0.0, F60) - 1.2) <= 0.937


def gallons_to_reduce(proof: float, to_proof: float) -> float:
    """Return gallons of water at 60 °F for 100 wine gallons."""
    return s.dilute(100.0, s.abv_of_proof(proof), s.abv_of_proof(to_proof), F60, F60, F60).water_l


def test_us_reduction_with_table_6() -> None:
    """27 CFR 30.66: 112 to 100 proof takes 12.42 gal of water to 100; 191 to 188 takes 1.84 as printed
    with a quotient rounded to 1.01, 1.89 from the same cells unrounded. Cells are to 0.005 gal."""
    assert gallons_to_reduce(112.0, 100.0) == pytest.approx(12.42, abs=0.0101)
    assert pytest.approx(1.89, abs=0.005) == 95.5 / 94.0 * 7.36 - 5.59
    assert gallons_to_reduce(191.0, 188.0) == pytest.approx(1.89, abs=0.0101)


def test_us_reduction_by_weight() -> None:
    """27 CFR 30.64: 1 000 lb of 200 proof (302.58 proof gallons) want 82.03 lb of water to be 190.
    1 part in 10 000 of the 1 082 lb that are made, as its table rests on older densities."""
    litres = s.volume_of_mass(1000.0 * s.POUND_KG, s.abv_of_proof(200.0), F60)
    water = s.dilute(litres, s.abv_of_proof(200.0), s.abv_of_proof(190.0), F60, F60, F60)
    assert water.on_scale_kg / s.POUND_KG == pytest.approx(82.03, abs=0.11)
