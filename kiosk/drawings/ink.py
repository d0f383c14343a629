"""The few shapes that all drawings are made of, each with the class of its ink.

A filled shape has one of six inks: `k` key, `c` clay, `y` juice, `p` paper (what the
knife left), `t` flat tint, `s` second dark. A line has the same letter after `l` and a
width, as in `lk w3`; `r` rounds its ends. `h` puts a rim of paper under a shape.
Lengths are in the units of the drawing's view box, y grows downward.
"""

import math
import re
from collections.abc import Iterable
from typing import Final

from markupsafe import Markup, escape

INKS: Final = ("k", "c", "y", "p", "t", "s")
# Widths of lines; `drawings.css` repeats them, and a test compares the two.
WIDTHS: Final = {"w1": 1.2, "w2": 2.0, "w3": 2.6, "w4": 3.6, "w5": 5.0, "w6": 6.5, "w8": 8.5, "w11": 11.0}
LINES: Final = tuple(f"l{ink}" for ink in INKS)
RIM: Final = 2.4
# Bent tubes: the width of their wall and of what runs in them, large and small.
TUBES: Final = {"tube": 13.0, "tube-core": 9.0, "pipe": 5.0, "pipe-core": 3.0}
# `d` are the dashes of what is planned or not known, `num` and `word` the two faces of text.
MODIFIERS: Final = ("h", "r", "d", "num", "word", "mid", "end")
STATES: Final = ("lit", "dimmed", "away", "sun")

Point = tuple[float, float]


def n(value: float) -> str:
    """Return a coordinate with at most one decimal.

    >>> n(12.04), n(-0.04), n(3.25)
    ('12', '0', '3.2')
    """
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def path(ink: str, d: str) -> str:
    """Return a path."""
    return f'<path class="{ink}" d="{d}"/>'


def shapes(*pairs: tuple[str, str]) -> str:
    """Return paths from pairs of ink and path data; neighbours of one plain ink become one path."""
    out: list[tuple[str, str]] = []
    for ink, d in pairs:
        if out and out[-1][0] == ink and " " not in ink:
            out[-1] = (ink, out[-1][1] + d)
        else:
            out.append((ink, d))
    return "".join(path(ink, d) for ink, d in out)


def placed(d: str, x: float, y: float, across: float = 1.0, down: float | None = None) -> str:
    """Return path data scaled and moved so that its origin is at (x, y); it may hold no arcs.

    >>> placed("M0 0L10 -10h5V0Z", 100, 50, 2)
    'M100 50L120 30h10V50Z'
    """
    out, high = [], across if down is None else down
    for command, numbers in re.findall(r"([A-Za-z])([^A-Za-z]*)", d):
        moved = command.isupper()
        values = []
        for i, value in enumerate(re.findall(r"-?\d*\.?\d+", numbers)):
            sideways = command in "Hh" or (command not in "Vv" and i % 2 == 0)
            scale, shift = (across, x) if sideways else (high, y)
            values.append(n(float(value) * scale + (shift if moved else 0)))
        out.append(command + " ".join(values))
    return "".join(out)


def polygon(ink: str, *points: Point) -> str:
    """Return a filled shape with straight edges."""
    return path(ink, "M" + "L".join(f"{n(x)} {n(y)}" for x, y in points) + "Z")


def box(x: float, y: float, width: float, height: float) -> str:
    """Return the path data of a rectangle."""
    return f"M{n(x)} {n(y)}h{n(width)}v{n(height)}h{n(-width)}z"


def rectangle(ink: str, x: float, y: float, width: float, height: float) -> str:
    """Return a rectangle."""
    return path(ink, box(x, y, width, height))


def circle(ink: str, x: float, y: float, r: float) -> str:
    """Return a circle."""
    return f'<circle class="{ink}" cx="{n(x)}" cy="{n(y)}" r="{n(r)}"/>'


def lines(ink: str, *segments: tuple[float, float, float, float]) -> str:
    """Return straight lines, each from its first point to its second."""
    return path(ink, "".join(f"M{n(a)} {n(b)}L{n(c)} {n(e)}" for a, b, c, e in segments))


def wedges(ink: str, *marks: tuple[float, float, float, float, float]) -> str:
    """Return gouge marks: from a broad start to a point, the last number is the width at the start."""
    d = ""
    for x1, y1, x2, y2, width in marks:
        length = math.hypot(x2 - x1, y2 - y1)
        ox, oy = -(y2 - y1) / length * width / 2, (x2 - x1) / length * width / 2
        d += f"M{n(x1 + ox)} {n(y1 + oy)}L{n(x2)} {n(y2)}L{n(x1 - ox)} {n(y1 - oy)}Z"
    return path(ink, d)


def spokes(
    ink: str, x: float, y: float, inner: float, outer: float, count: int, turn: float = 0.0, arc: float = 1.0
) -> str:
    """Return `count` lines from an inner to an outer radius, over `arc` of a full turn."""
    span = 2 * math.pi * arc
    steps = count if arc >= 1 else max(1, count - 1)
    angles = [turn + span * i / steps for i in range(count)]
    return lines(
        ink,
        *[
            (
                x + inner * math.cos(a),
                y + inner * math.sin(a),
                x + outer * math.cos(a),
                y + outer * math.sin(a),
            )
            for a in angles
        ],
    )


def text(kind: str, x: float, y: float, words: str, size: float) -> str:
    """Return a word or number; `kind` holds its ink and its face, as in `k num mid`."""
    return f'<text class="{kind}" x="{n(x)}" y="{n(y)}" font-size="{n(size)}">{escape(words)}</text>'


def group(
    *parts: str, kind: str = "", at: Point = (0.0, 0.0), scale: float = 1.0, mirror: bool = False
) -> str:
    """Return parts as a group, moved to a point, scaled, and turned left for right if asked."""
    moves = []
    if at != (0.0, 0.0):
        moves.append(f"translate({n(at[0])} {n(at[1])})")
    if mirror or scale != 1.0:
        moves.append(f"scale({'-' if mirror else ''}{scale:.3g} {scale:.3g})")
    attributes = (f' class="{kind}"' if kind else "") + (f' transform="{" ".join(moves)}"' if moves else "")
    return f"<g{attributes}>{''.join(parts)}</g>"


def svg(
    view: tuple[float, float, float, float], body: str | Iterable[str], *, kind: str, label: str = ""
) -> Markup:
    """Return a whole drawing: an image with `label` as its name, or hidden from a screen reader without one."""
    name = f'role="img" aria-label="{escape(label)}"' if label else 'aria-hidden="true" focusable="false"'
    inner = body if isinstance(body, str) else "".join(body)
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing {kind}" viewBox="{" ".join(n(v) for v in view)}" {name}>{inner}</svg>'
    )
