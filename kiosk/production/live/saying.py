"""Figures that have no value, told apart: what rests, and what nobody can know."""

from __future__ import annotations

from datetime import datetime, timedelta

from kiosk.figures.figure import RESTING, Basis, Figure

NO_RECORD = "no_record"
"""Nothing of the kind was ever recorded."""
NO_READING = "no_reading"
"""It is under way, and nobody has read an instrument yet."""
NONE_YET = "none_yet"
"""It was looked at, and there is none yet to be measured."""
FEW = 5
"""How many records are named behind a figure that rests on hundreds."""


def seconds(**span: float) -> int:
    """Return a span of time in whole seconds."""
    return int(timedelta(**span).total_seconds())


def resting(last_at: datetime | None) -> Figure:
    """Return a figure that rests since `last_at`; without any last time it is not known."""
    if last_at is None:
        return unknown(NO_RECORD)
    return Figure(None, last_at, Basis.STATED, missing=RESTING)


def unknown(reason: str) -> Figure:
    """Return a figure that cannot be known, with the code that says why."""
    return Figure(None, None, Basis.STATED, missing=reason)
