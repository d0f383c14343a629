"""Charts with two axes, curves, bands and marks in the reader's numbers and dates, and flow diagrams.

A flow diagram has bands between columns of stems, each band as thick as its share of the whole.
"""

import math
from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from babel.dates import format_skeleton
from reportlab.graphics import shapes
from reportlab.lib.colors import Color

from kiosk.paper.pictures import (
    INK,
    LINE,
    PAPER,
    QUIET,
    SMALL,
    WIDTH,
    Anchor,
    area,
    box,
    empty,
    label,
    stroke,
)
from kiosk.words.catalogs import Words
from kiosk.words.formats import plain_number

LEFT, RIGHT, TOP, BOTTOM = 50.0, 30.0, 34.0, 38.0

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis: its ends, its ticks with their labels, and the name of what it measures."""

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
    """A drawing with axes; points are given in the units of the axes."""

    def __init__(self, across: Axis, up: Axis, height: float = 260.0) -> None:
        self.across, self.up, self.height = across, up, height
        self.drawing: shapes.Drawing = empty(height)
        self._grid()

    def x(self, value: float) -> float:
        """Return the x of a value of the horizontal axis, in points."""
        span = self.across.high - self.across.low or 1.0
        return LEFT + (value - self.across.low) / span * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        """Return the y of a value of the vertical axis, in points."""
        span = self.up.high - self.up.low or 1.0
        return BOTTOM + (value - self.up.low) / span * (self.height - TOP - BOTTOM)

    def curve(self, points: Points, colour: Color, dashes: Sequence[float] | None = None) -> None:
        """Draw a curve."""
        self.drawing.add(stroke([(self.x(a), self.y(b)) for a, b in points], colour, 2.4, dashes))

    def under(self, points: Points, colour: Color) -> None:
        """Fill the area under a curve."""
        self.between(points, [(a, self.up.low) for a, _ in points], colour)

    def between(self, above: Points, below: Points, colour: Color) -> None:
        """Fill the area between two curves."""
        outline = [(self.x(a), self.y(b)) for a, b in (*above, *reversed(below))]
        self.drawing.add(area(outline, colour))

    def dots(self, points: Points, colour: Color, radius: float = 2.6) -> None:
        """Mark measured points."""
        for a, b in points:
            dot = shapes.Circle(self.x(a), self.y(b), radius, fillColor=PAPER)
            dot.strokeColor, dot.strokeWidth = colour, 1.6
            self.drawing.add(dot)

    def upright(self, at: float, name: str = "") -> None:
        """Draw a vertical dashed line, with a name above it."""
        ends = [(self.x(at), BOTTOM), (self.x(at), self.height - TOP + 6.0)]
        self.drawing.add(stroke(ends, QUIET, 1.0, (3.0, 3.0)))
        if name:
            self.write(at, self.up.high, name)

    def write(self, at: float, high: float, text: str, colour: Color = INK, rise: float = 9.0) -> None:
        """Write a text over a point, kept inside the drawing."""
        half = len(text) * SMALL * 0.28
        x = min(max(self.x(at), LEFT + half), WIDTH - half - 2.0)
        self._label(x, self.y(high) + rise, text, "middle", colour)

    def _label(self, x: float, y: float, text: str, anchor: Anchor = "start", colour: Color = QUIET) -> None:
        self.drawing.add(label(x, y, text, size=SMALL, colour=colour, anchor=anchor))

    def _grid(self) -> None:
        for value, text in self.up.ticks:
            self.drawing.add(stroke([(LEFT, self.y(value)), (WIDTH - RIGHT, self.y(value))], LINE, 1.0))
            self._label(LEFT - 6.0, self.y(value) - 4.0, text, "end")
        self.drawing.add(stroke([(LEFT, BOTTOM), (WIDTH - RIGHT, BOTTOM)], QUIET, 1.6))
        for value, text in self.across.ticks:
            self.drawing.add(stroke([(self.x(value), BOTTOM), (self.x(value), BOTTOM - 4.0)], QUIET, 1.2))
            self._label(self.x(value), BOTTOM - 17.0, text, "middle")
        self._label(WIDTH - RIGHT, 5.0, self.across.name, "end")
        self._label(2.0, self.height - 12.0, self.up.name)


def numbers(low: float, high: float, name: str, words: Words, most: int = 6) -> Axis:
    """Return an axis of a quantity with round ticks."""
    return Axis(low, high, [(value, plain_number(value, words)) for value in steps(low, high, most)], name)


def months(first: datetime, last: datetime, name: str, words: Words) -> Axis:
    """Return an axis of time, in seconds since the epoch, with five ticks named by their month."""
    start, end = first.timestamp(), last.timestamp()
    at = [start + (end - start) * n / 4 for n in range(5)]
    days = (datetime.fromtimestamp(s, first.tzinfo) for s in at)
    named = (format_skeleton("yMMM", day, locale=words.locale) for day in days)
    return Axis(start, end, list(zip(at, named, strict=True)), name)


STEM, GAP, BAND, PLACE_FOR_NAMES = 9.0, 16.0, 150.0, 16.0
LEAST = 1.2
"""In points: a stem's width, the gap between stems, the whole, a name's line; the thinnest visible band."""


@dataclass(frozen=True, slots=True)
class Node:
    """A stem: its name, its amount as text, its share of the whole, its colours (stem, outgoing bands)."""

    key: Hashable
    name: str
    amount: str
    value: float
    colour: Color
    soft: Color


@dataclass(frozen=True, slots=True)
class _Placed:
    node: Node
    x: float
    top: float
    height: float


Links = Mapping[tuple[Hashable, Hashable], float]
Places = Mapping[Hashable, _Placed]


def flow(columns: Sequence[Sequence[Node]], links: Links) -> shapes.Drawing:
    """Return a drawing of columns of stems and the bands of `links` between them, as shares of the whole (1).

    The bands at a stem are in the order of the other column.
    """
    most = max(len(column) for column in columns)
    height = BAND + (most + 1) * (GAP + PLACE_FOR_NAMES)
    drawing = empty(height)
    placed: dict[Hashable, _Placed] = {}
    for at, column in enumerate(columns):
        x = 2.0 + at * (WIDTH - STEM - 4.0) / (len(columns) - 1)
        placed.update(_column(column, x, height))
    _bands(drawing, columns, links, placed)
    for at, column in enumerate(columns):
        for node in column:
            _stem(drawing, placed[node.key], at, len(columns))
    return drawing


def _column(column: Sequence[Node], x: float, height: float) -> dict[Hashable, _Placed]:
    total = sum(max(node.value * BAND, LEAST) for node in column)
    free = height - total - len(column) * PLACE_FOR_NAMES
    gap = min(free / (len(column) + 1), 2.2 * GAP)
    top = height - (height - total - len(column) * PLACE_FOR_NAMES - (len(column) - 1) * gap) / 2
    placed = {}
    for node in column:
        top -= PLACE_FOR_NAMES
        tall = max(node.value * BAND, LEAST)
        placed[node.key] = _Placed(node, x, top, tall)
        top -= tall + gap
    return placed


def _bands(drawing: shapes.Drawing, columns: Sequence[Sequence[Node]], links: Links, placed: Places) -> None:
    left: dict[Hashable, float] = defaultdict(float)
    reached: dict[Hashable, float] = defaultdict(float)
    for sources, targets in pairwise(columns):
        for source in sources:
            for target in targets:
                value = links.get((source.key, target.key), 0.0)
                if value * BAND < LEAST / 4:  # thinner than a hair; the table has it
                    continue
                a, b, tall = placed[source.key], placed[target.key], value * BAND
                drawing.add(_band(a, a.top - left[source.key], b, b.top - reached[target.key], tall))
                left[source.key] += tall
                reached[target.key] += tall


def _band(a: _Placed, from_top: float, b: _Placed, to_top: float, tall: float) -> shapes.Path:
    tall = max(tall, LEAST / 2)
    x1, x2 = a.x + STEM, b.x
    half = (x1 + x2) / 2
    path = shapes.Path(fillColor=a.node.soft, strokeColor=PAPER, strokeWidth=0.8)
    path.moveTo(x1, from_top)
    path.curveTo(half, from_top, half, to_top, x2, to_top)
    path.lineTo(x2, to_top - tall)
    path.curveTo(half, to_top - tall, half, from_top - tall, x1, from_top - tall)
    path.closePath()
    return path


def _stem(drawing: shapes.Drawing, placed: _Placed, at: int, columns: int) -> None:
    node = placed.node
    drawing.add(box(placed.x, placed.top - placed.height, STEM, placed.height, node.colour))
    anchor: Anchor = "start" if at == 0 else "end" if at == columns - 1 else "middle"
    x = placed.x + {"start": 0.0, "middle": STEM / 2, "end": STEM}[anchor]
    text = f"{node.name} {node.amount}" if node.amount else node.name
    colour = INK if node.value > LEAST / BAND else QUIET
    drawing.add(label(x, placed.top + 4.0, text, size=SMALL, colour=colour, anchor=anchor))
