"""The angels while one walks: what they drank since a tour set off, and casks filled on a birthday."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from kiosk.figures.figure import FigureReader
from kiosk.production.live.birthdays import FILLED_ON, casks_filled_on
from kiosk.site.content.rendering import PageReader
from kiosk.words.formats import day as named

_LONGEST = timedelta(hours=12)
"""No tour walks longer; what set off earlier has come back."""
_LEAP_YEAR = 2024  # it has every day of the year


def angels_bottles_since(figures: FigureReader, start: datetime, now: datetime) -> float | None:
    """Return the bottles that the casks are expected to have lost since `start`; None where nobody can say.

    A bottle is the one that `angels_bottle_every` names. None also before the
    start, and when a tour is long over.
    """
    hours_a_bottle = figures.get("angels_bottle_every").value
    if not hours_a_bottle or not timedelta(0) <= now - start <= _LONGEST:
        return None
    return (now - start) / timedelta(hours=1) / hours_a_bottle


@dataclass(frozen=True, slots=True)
class Birthday:
    """The question 'was a cask filled on my birthday?'; `day` is "" while none, or no such day, was asked."""

    asked: bool = False
    day: str = ""
    years: tuple[int, ...] = ()


def birthday(reader: PageReader, day: int | None, month: int | None) -> Birthday:
    """Answer for a day of the year; nothing is kept of the question."""
    if day is None or month is None:
        return Birthday()
    try:
        on = date(_LEAP_YEAR, month, day)
    except ValueError:
        return Birthday(asked=True)
    years = casks_filled_on(day, month, reader.figures.cached(FILLED_ON))
    return Birthday(True, named(on, reader.words, on), years)
