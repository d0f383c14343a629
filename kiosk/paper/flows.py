"""Flow diagrams: bands between columns of stems, each band as thick as its share of the whole."""

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from reportlab.graphics import shapes
from reportlab.lib.colors import Color

from kiosk.paper.pictures import INK, PAPER, QUIET, SMALL, WIDTH, Anchor, box, empty, label

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
