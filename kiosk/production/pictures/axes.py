"""Axes in the reader's own numbers and days."""

from __future__ import annotations

from datetime import datetime

from babel.dates import format_skeleton

from kiosk.paper.charts import Axis, steps
from kiosk.words.catalogs import Words
from kiosk.words.numbers import plain_number


def numbers(low: float, high: float, name: str, words: Words, most: int = 6) -> Axis:
    """Return an axis of a quantity whose ticks are round."""
    return Axis(low, high, [(value, plain_number(value, words)) for value in steps(low, high, most)], name)


def months(first: datetime, last: datetime, name: str, words: Words) -> Axis:
    """Return an axis of time, in seconds since the epoch, with five months named."""
    start, end = first.timestamp(), last.timestamp()
    at = [start + (end - start) * n / 4 for n in range(5)]
    named = (
        format_skeleton("yMMM", datetime.fromtimestamp(s, first.tzinfo), locale=words.locale) for s in at
    )
    return Axis(start, end, list(zip(at, named, strict=True)), name)
