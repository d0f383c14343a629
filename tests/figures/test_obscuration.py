from __future__ import annotations

import pytest

from kiosk.figures import strength as s
from kiosk.figures.errors import FigureError


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
    with pytest.raises(FigureError, match="distil the sample or use a laboratory method"):
        s.true_proof_with_solids(60.0, 15.0)


@pytest.mark.parametrize(("residue", "sample", "field"), [(-0.1, 25.0, "residue_g"), (0.1, 0.0, "sample_ml")])
def test_a_residue_is_weighed_from_a_sample(residue: float, sample: float, field: str) -> None:
    with pytest.raises(FigureError) as caught:
        s.solids_g_per_100ml(residue, sample)
    assert caught.value.field == field
