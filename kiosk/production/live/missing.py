"""Figures without a value: those that rest, and those that are not known and why."""

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from typing import ParamSpec

from kiosk.figures.errors import FigureError
from kiosk.figures.figure import RESTING, Basis, Figure

P = ParamSpec("P")

NO_RECORD = "no_record"
"""Nothing of the kind is on record."""
NO_READING = "no_reading"
"""It is under way, and no instrument has been read yet."""
NONE_YET = "none_yet"
"""It was measured, and there is none yet."""
FEW = 5
"""The most records that a figure names as those it rests on."""


def seconds(**span: float) -> int:
    """Return a span of time in whole seconds."""
    return int(timedelta(**span).total_seconds())


def resting(last_at: datetime | None) -> Figure:
    """Return a figure that rests since `last_at`, or is not known when there was no last time."""
    if last_at is None:
        return unknown(NO_RECORD)
    return Figure(None, last_at, Basis.STATED, missing=RESTING)


def unknown(reason: str) -> Figure:
    """Return a figure that is not known; `reason` is the code that says why."""
    return Figure(None, None, Basis.STATED, missing=reason)


def or_unknown(compute: Callable[P, Figure]) -> Callable[P, Figure]:
    """Decorate a function: where it raises a FigureError, its figure is not known for that reason."""

    @wraps(compute)
    def figure_or_unknown(*args: P.args, **kwargs: P.kwargs) -> Figure:
        try:
            return compute(*args, **kwargs)
        except FigureError as error:
            return unknown(error.reason)

    return figure_or_unknown
