"""True proof against the US table of corrections."""

from __future__ import annotations

import pytest

from kiosk.figures.strength import abv_of_proof, reading_abv_percent, stated_proof, true_proof

# Source: 27 CFR 30.61 Table 1 (Gauging Manual): sixty cells,
# hydrometer reading in proof, temperature in °F, true proof.
CELLS = [
    (65, 42, 73.4),
    (66, 55, 68.3),
    (66, 69, 61.9),
    (66, 80, 57.0),
    (67, 88, 54.4),
    (67, 97, 50.5),
    (68, 58, 68.9),
    (69, 63, 67.6),
    (69, 84, 58.1),
    (71, 73, 65.1),
    (72, 51, 76.1),
    (72, 79, 63.4),
    (73, 91, 58.9),
    (75, 89, 61.9),
    (76, 78, 67.9),
    (77, 93, 62.1),
    (79, 62, 78.1),
    (80, 55, 82.2),
    (84, 56, 85.7),
    (88, 90, 74.8),
    (89, 82, 79.4),
    (89, 99, 71.8),
    (92, 59, 92.4),
    (98, 94, 83.4),
    (101, 66, 98.5),
    (103, 69, 99.3),
    (109, 46, 114.5),
    (113, 41, 120.3),
    (113, 56, 114.6),
    (116, 49, 120.3),
    (116, 57, 117.2),
    (117, 40, 124.6),
    (118, 54, 120.3),
    (128, 48, 132.5),
    (131, 98, 116.3),
    (132, 77, 125.6),
    (134, 40, 141.1),
    (134, 86, 124.2),
    (135, 54, 137.2),
    (135, 97, 120.9),
    (136, 80, 128.5),
    (136, 83, 127.4),
    (137, 70, 133.3),
    (138, 46, 142.9),
    (138, 56, 139.4),
    (138, 57, 139.1),
    (138, 78, 131.4),
    (144, 55, 145.8),
    (144, 82, 136.0),
    (145, 88, 134.8),
    (147, 65, 145.2),
    (151, 75, 145.7),
    (169, 76, 163.9),
    (170, 57, 170.9),
    (171, 42, 176.3),
    (175, 57, 175.9),
    (182, 50, 184.7),
    (187, 54, 188.5),
    (187, 56, 188.0),
    (187, 57, 187.8),
]


def miss(reading: float, temperature_f: float, table: float) -> float:
    """Return by how much the stated proof differs from the table, to 0.1."""
    return round(abs(stated_proof(true_proof(reading, temperature_f)) - table), 1)


def test_at_least_98_per_cent_of_the_cells_agree_within_a_tenth_of_proof() -> None:
    """Two in a hundred are left for misprints of public transcriptions; none is needed here."""
    assert len(CELLS) == 60
    beyond = [cell for cell in CELLS if miss(*cell) > 0.1]
    assert len(beyond) <= 0.02 * len(CELLS), beyond


def test_the_misses_lean_to_neither_side() -> None:
    """The table is rounded to 0.1, so the mean of sixty unrounded misses is near 0."""
    misses = [true_proof(reading, t) - table for reading, t, table in CELLS]
    assert abs(sum(misses) / len(misses)) < 0.02


@pytest.mark.parametrize(("reading", "temperature_f", "table"), CELLS[::6])
def test_a_proof_record_in_celsius_gives_the_strength_of_the_table(
    reading: float, temperature_f: float, table: float
) -> None:
    """0.1 proof is 0.05 % vol; the cell's own rounding adds 0.025."""
    found = reading_abv_percent("glass_proof60", reading, (temperature_f - 32.0) / 1.8)
    assert found == pytest.approx(abv_of_proof(table), abs=0.076)
