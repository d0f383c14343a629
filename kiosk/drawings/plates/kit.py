"""What plates are drawn with: fine lines in section, joints, hatching, and letters with their leaders.

A plate stands in a cell of 360 by 250 with its ground at 220. Its lines are `a` (cut and
outline), `b` (what lies behind), `f` (joints and shade); a second letter fills the shape:
`p` paper, `t` the flat tint, `c` clay for what runs.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from kiosk.drawings.ink import Point, box, circle, lines, n, path, svg, text

VIEW: Final = (-12.0, -16.0, 384.0, 262.0)
GROUND: Final = 220
LETTERS: Final = "ABCDEFGH"
_RADIUS: Final = 10.5


@dataclass(frozen=True)
class Part:
    """A lettered part: the key of its name, the point that the leader meets, and where its letter stands."""

    key: str
    at: Point
    letter: Point


@dataclass(frozen=True)
class Plate:
    """A plate: what draws it and its lettered parts in their order."""

    draw: Callable[[], str]
    parts: tuple[Part, ...]


def write_plate(plate: Plate, names: Mapping[str, str], label: str) -> Markup:
    """Return a plate with its letters; its name for a screen reader lists the parts.

    Raises KeyError for a part without a name.
    """
    named = "; ".join(f"{letter} {name}" for letter, _, name in text_twin(plate, names))
    body = plate.draw() + "".join(_letter(LETTERS[i], part) for i, part in enumerate(plate.parts))
    return svg(VIEW, body, kind="plate", label=f"{label}. {named}" if named else label)


def text_twin(plate: Plate, names: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return each part's letter, key and name, in the order of the letters.

    Raises KeyError for a part without a name.
    """
    return [(LETTERS[i], part.key, names[part.key]) for i, part in enumerate(plate.parts)]


def _letter(letter: str, part: Part) -> str:
    (x, y), (tx, ty) = part.letter, part.at
    d = f"M{n(x)} {n(y)}L{n(tx)} {n(ty)}"
    leader = path("lead-rim", d) + path("lead", d) + circle("lead-end", tx, ty, 2.4)
    disc = circle("p", x, y, _RADIUS + 2) + circle("letter", x, y, _RADIUS)
    return leader + disc + text("letter-text", x, y + 4.8, letter, 13.5)


def rect(kind: str, x: float, y: float, width: float, height: float) -> str:
    """Return a rectangle of lines."""
    return path(kind, box(x, y, width, height))


def joints(x1: float, x2: float, y1: float, y2: float, count: int) -> str:
    """Return upright joints that part a width into `count` boards."""
    return lines(
        "f", *[(x1 + (x2 - x1) * i / count, y1, x1 + (x2 - x1) * i / count, y2) for i in range(1, count)]
    )


def hatching(x: float, y: float, width: float, height: float, step: float = 5) -> str:
    """Return slanting lines inside a rectangle, for what is cut."""
    segments, k = [], -height
    while k < width:
        left, right = max(0.0, k), min(width, k + height)
        segments.append((x + left, y + height - (left - k), x + right, y + height - (right - k)))
        k += step
    return lines("f", *segments)


def bricks(
    x: float, y: float, width: float, height: float, rows: int, step: float, gap: tuple[float, float, float]
) -> str:
    """Return courses of bricks; `gap` is the left, right and top of an opening without bricks."""
    out, course = [], height / rows
    for row in range(rows):
        top = y + row * course
        if row:
            opened = top > gap[2]
            out += (
                [(x, top, gap[0], top), (gap[1], top, x + width, top)]
                if opened
                else [(x, top, x + width, top)]
            )
        at = x + (step if row % 2 else step / 2)
        while at < x + width - 1:
            if not (gap[0] - 1 < at < gap[1] + 1 and top + course > gap[2]):
                out.append((at, top, at, top + course))
            at += step
    return lines("f", *out)


def ground(*gaps: tuple[float, float]) -> str:
    """Return the ground line across the cell, open at the gaps, with a few strokes of earth."""
    x, solid = -12.0, []
    for a, b in sorted(gaps):
        solid.append((x, GROUND, a, GROUND))
        x = b
    solid.append((x, GROUND, 372.0, GROUND))
    marks = ((8, 3), (74, 2), (128, 4), (206, 3), (268, 2), (330, 4))
    free = [(x0, k) for x0, k in marks if not any(a - 25 < x0 < b + 6 for a, b in gaps)]
    earth = [(x0 + 5 * i, 224, x0 + 5 * i - 5, 231) for x0, k in free for i in range(k)]
    return lines("a", *solid) + lines("f", *earth)


def gable(left: float, right: float, eaves: float, ridge: float, thick: float = 7) -> str:
    """Return a roof cut across, with its two tie beams."""
    middle = (left + right) / 2
    roof = (
        f"M{n(left)} {n(eaves)}L{n(middle)} {n(ridge)}L{n(right)} {n(eaves)}l-4 {n(thick)}"
        f"L{n(middle)} {n(ridge + thick + 1)}L{n(left + 4)} {n(eaves + thick)}Z"
    )
    beams = lines("b", (left + 34, eaves, right - 34, eaves), (left + 34, eaves + 5, right - 34, eaves + 5))
    return beams + path("a t", roof)


def coil(d: str) -> str:
    """Return a bent copper tube, drawn as a broad line with a lighter core."""
    return path("pipe", d) + path("pipe-core", d)


def wheel(x: float, y: float, r: float, spokes: int, rim: float = 5, hub: float = 8) -> str:
    """Return a spoked wheel."""
    angles = [math.pi * 2 * i / spokes + 0.13 for i in range(spokes)]
    inner = [
        (
            x + hub * math.cos(a),
            y + hub * math.sin(a),
            x + (r - rim) * math.cos(a),
            y + (r - rim) * math.sin(a),
        )
        for a in angles
    ]
    return (
        circle("a p", x, y, r)
        + circle("b", x, y, r - rim)
        + lines("b", *inner)
        + circle("b p", x, y, hub)
        + circle("k", x, y, 2.2)
    )


def bottle_line(x: float, y: float, height: float, fill: float = 0.0, ink: str = "c") -> str:
    """Return the house bottle in line, standing at (x, y), filled to a share of its height."""
    w, top = height * 0.16, y - height
    shell = (
        f"M{n(x - w * 0.36)} {n(top)}V{n(top + height * 0.27)}C{n(x - w * 0.36)} {n(top + height * 0.36)} {n(x - w)} {n(top + height * 0.36)} "
        f"{n(x - w)} {n(top + height * 0.47)}V{n(y)}H{n(x + w)}V{n(top + height * 0.47)}C{n(x + w)} {n(top + height * 0.36)} "
        f"{n(x + w * 0.36)} {n(top + height * 0.36)} {n(x + w * 0.36)} {n(top + height * 0.27)}V{n(top)}Z"
    )
    level = path(ink, box(x - w + 0.4, y - height * fill, 2 * w - 0.8, height * fill)) if fill else ""
    return path("b p", shell) + level + path("b", shell)
