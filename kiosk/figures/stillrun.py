"""The still run: one door to its cuts (`cuts.py`) and its account (`recovery.py`)."""

from kiosk.figures.cuts import (
    CUTS,
    HEARTS,
    AsRead,
    Cut,
    Now,
    Reading,
    corrected,
    cuts,
    hearts,
    run_now,
    run_so_far,
)
from kiosk.figures.recovery import (
    FEINTS,
    POT,
    TO_BE_FEINTS,
    Difference,
    Receipt,
    Receiver,
    Recovery,
    against_gauges,
    recovery,
)

__all__ = [
    "CUTS",
    "FEINTS",
    "HEARTS",
    "POT",
    "TO_BE_FEINTS",
    "AsRead",
    "Cut",
    "Difference",
    "Now",
    "Reading",
    "Receipt",
    "Receiver",
    "Recovery",
    "against_gauges",
    "corrected",
    "cuts",
    "hearts",
    "recovery",
    "run_now",
    "run_so_far",
]
