"""Charts: a plane with two axes, curves, bands and marks on it, in the house's line art.

Axes in the reader's own numbers and days.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from babel.dates import format_skeleton
from reportlab.graphics import shapes
from reportlab.lib.colors import Color

from kiosk.paper.pictures import INK, LINE, PAPER, QUIET, SMALL, WIDTH, area, empty, label, stroke
from kiosk.words.catalogs import Words
from kiosk.words.formats import plain_number

LEFT, RIGHT, TOP, BOTTOM = 50.0, 30.0, 34.0, 38.0

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: its ends, the ticks with what is written at them, and what it measures."""

    low: float
    high: float
    ticks: Sequence[tuple[float, str]]
    name: str


def steps(low: float, high: float, most: int = 6) -> list[float]:
    """Return round values from `low` to `high`, at most about `most` of them.

    >>> steps(0.0, 23.0, 5)
    [0.0, 5.0, 10.0, 15.0, 20.0]
    """
    raw = max(high - low, 1e-9) / most
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * n for n in (1, 2, 2.5, 5, 10) if size * n >= raw)
    first = math.ceil(low / step - 1e-9)
    return [round(step * n, 9) for n in range(first, math.floor(high / step + 1e-9) + 1)]


class Chart:
    """A drawing with axes; points are in the axes' own measures."""

    def __init__(self, across: Axis, up: Axis, height: float = 260.0) -> None:
        self.across, self.up, self.height = across, up, height
        self.drawing: shapes.Drawing = empty(height)
        self._grid()

    def x(self, value: float) -> float:
        """Return where a value lies across."""
        span = self.across.high - self.across.low or 1.0
        return LEFT + (value - self.across.low) / span * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Return where a value lies up."""
        span = self.up.high - self.up.low or 1.0
        return BOTTOM + (value - self.up.low) / span * (self.height - TOP - BOTTOM)

    def curve(self, points: Points, colour: Color, dashes: Sequence[float] | None = None) -> None:
        """Draw a curve."""
        self.drawing.add(stroke([(self.x(a), self.y(b)) for a, b in points], colour, 2.4, dashes))

    def under(self, points: Points, colour: Color) -> None:
        """Fill what lies under a curve."""
        self.between(points, [(a, self.up.low) for a, _ in points], colour)

    def between(self, above: Points, below: Points, colour: Color) -> None:
        """Fill what lies between two curves."""
        outline = [(self.x(a), self.y(b)) for a, b in (*above, *reversed(below))]
        self.drawing.add(area(outline, colour))

    def dots(self, points: Points, colour: Color, radius: float = 2.6) -> None:
        """Mark what was measured."""
        for a, b in points:
            self.drawing.add(
                shapes.Circle(
                    self.x(a), self.y(b), radius, fillColor=PAPER, strokeColor=colour, strokeWidth=1.6
                )
            )

    def upright(self, at: float, said: str = "") -> None:
        """Draw an upright dashed line, with a word over it."""
        ends = [(self.x(at), BOTTOM), (self.x(at), self.height - TOP + 6.0)]
        self.drawing.add(stroke(ends, QUIET, 1.0, (3.0, 3.0)))
        if said:
            self.write(at, self.up.high, said)

    def write(self, at: float, high: float, said: str, colour: Color = INK, rise: float = 9.0) -> None:
        """Write a word over a point, held inside the drawing."""
        room = len(said) * SMALL * 0.28
        x = min(max(self.x(at), LEFT + room), WIDTH - room - 2.0)
        self.drawing.add(label(x, self.y(high) + rise, said, size=SMALL, colour=colour, anchor="middle"))

    def _grid(self) -> None:
        for value, said in self.up.ticks:
            self.drawing.add(stroke([(LEFT, self.y(value)), (WIDTH - RIGHT, self.y(value))], LINE, 1.0))
            self.drawing.add(
                label(LEFT - 6.0, self.y(value) - 4.0, said, size=SMALL, colour=QUIET, anchor="end")
            )
        self.drawing.add(stroke([(LEFT, BOTTOM), (WIDTH - RIGHT, BOTTOM)], QUIET, 1.6))
        for value, said in self.across.ticks:
            self.drawing.add(stroke([(self.x(value), BOTTOM), (self.x(value), BOTTOM - 4.0)], QUIET, 1.2))
            self.drawing.add(
                label(self.x(value), BOTTOM - 17.0, said, size=SMALL, colour=QUIET, anchor="middle")
            )
        self.drawing.add(label(WIDTH - RIGHT, 5.0, self.across.name, size=SMALL, colour=QUIET, anchor="end"))
        self.drawing.add(label(2.0, self.height - 12.0, self.up.name, size=SMALL, colour=QUIET))


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
