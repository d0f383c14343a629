"""Obscuration: dissolved solids make spirit heavier and so hide a part of its strength.

The US rule goes by the solids in 100 mL: little enough is let pass, a little more
is made up for by a factor, and above that no hydrometer can tell the strength.
"""

from __future__ import annotations

from kiosk.figures.errors import FigureError
from kiosk.figures.ranges import not_negative, within

LET_PASS_G_PER_100ML = 0.4
MOST_G_PER_100ML = 0.6
PROOF_PER_G = 4.0
"""0.1 g of solids in 100 mL hide 0.4 proof (27 CFR 30.32(b))."""

EVAPORATION_SAMPLE_ML = 25.0


def solids_g_per_100ml(residue_g: float, sample_ml: float = EVAPORATION_SAMPLE_ML) -> float:
    """Return grams of dissolved solids in 100 mL from what a sample leaves when it is evaporated.

    `residue_g` weighed after drying at 100 °C for 30 minutes; `sample_ml` above 0,
    25 mL by the rule. Raises FigureError `out_of_range`. Source: 27 CFR 30.32(b).

    >>> solids_g_per_100ml(0.125)
    0.5
    """
    not_negative("residue_g", residue_g, "g")
    if not 0.0 < sample_ml < float("inf"):
        raise FigureError("sample_ml", sample_ml, "above 0 mL")
    return residue_g / sample_ml * 100.0


def true_proof_with_solids(apparent_proof: float, solids_g_per_100ml: float) -> float:
    """Return the true proof of spirit that holds dissolved solids, unrounded.

    `apparent_proof` 0 to 200: what the hydrometer says once corrected for
    temperature (`true_proof`); `solids_g_per_100ml` in grams in 100 mL of the
    spirit. Up to 0.4 the apparent proof stands. Above 0.4 to 0.6 each gram adds 4
    proof, for spirit of 80 to 100 proof alone. Raises FigureError `out_of_range`
    for other strengths there, and `distil` above 0.6, where a hydrometer says
    nothing: distil the sample or use a laboratory method.
    Source: 27 CFR 30.31 and 30.32.

    >>> true_proof_with_solids(84.0, 0.5), true_proof_with_solids(84.0, 0.4)
    (86.0, 84.0)
    """
    within("proof", apparent_proof, 0.0, 200.0, "proof")
    not_negative("solids_g_per_100ml", solids_g_per_100ml, "g/100 mL")
    if solids_g_per_100ml <= LET_PASS_G_PER_100ML:
        return apparent_proof
    if solids_g_per_100ml > MOST_G_PER_100ML:
        raise FigureError(
            "solids_g_per_100ml",
            solids_g_per_100ml,
            "at most 0.6 g/100 mL: above that distil the sample or use a laboratory method",
            "distil",
        )
    within("proof", apparent_proof, 80.0, 100.0, "proof")
    return apparent_proof + PROOF_PER_G * solids_g_per_100ml
