"""The words of every figure, by subject.

What the words of a figure are made of.
"""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.words.catalogs import N_

Wording = str | tuple[str, str]
"""One message, or its forms for one and for many where the figure counts things."""


@dataclass(frozen=True, slots=True)
class FigureWords:
    """The words of one figure: for guests a sentence in each state, for staff how it is reckoned."""

    noun: Wording  # stands after number and unit while the figure is fresh
    noun_then: Wording  # the same without "now" or "today"
    fresh: Wording
    stale: Wording
    unknown: str
    how: str  # from which records, and by what reckoning
    resting: str = N_("Nothing to tell of today; the last time was {day}.")
