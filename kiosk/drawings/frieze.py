"""The walk as a frieze: its stops on one ground line, the current one lit, a line of juice up to it."""

from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from kiosk.drawings.ink import group, path, rectangle, svg, text
from kiosk.drawings.stops import CELL, GROUND, shapes_of

_HILLS = (
    "M0 240V172C90 120 190 112 300 150C400 90 520 84 640 138C760 92 860 70 980 116"
    "C1080 74 1210 60 1330 118C1440 84 1530 96 1640 132C1760 88 1880 92 1990 130C2100 92 2230 96 2400 172V240Z"
)


_HILLS_WIDTH: Final = 2400


def _hills(start: float, width: float) -> str:
    """Return the hills behind a part of the row; they repeat."""
    first, last = int(start // _HILLS_WIDTH), int((start + width) // _HILLS_WIDTH)
    return "".join(group(path("hill", _HILLS), at=(i * _HILLS_WIDTH, 0)) for i in range(first, last + 1))


def frieze(
    slugs: Sequence[str],
    current: str | None = None,
    label: str = "",
    *,
    kind: str = "",
    numbers: bool = False,
    glasses: int = 5,
    window: tuple[float, float] | None = None,
) -> Markup:
    """Return the stops of a walk in one row; with a current stop the others are dimmed.

    `window` is the first x and the width of the part to draw, in units of 240 a stop; the whole
    row with a little air without it. Stops outside the window are left out.
    """
    start, width = window or (-12, len(slugs) * CELL + 24)
    drawn, lit = "", ""
    for i, slug in enumerate(slugs):
        if (i + 1) * CELL < start - 40 or i * CELL > start + width + 40:
            continue
        state = "lit" if slug == current or current is None else "dimmed"
        cell = group(shapes_of(slug, glasses=glasses), kind=state, at=(i * CELL, 0))
        drawn, lit = (drawn, cell) if slug == current else (drawn + cell, lit)
    foot = 44 if numbers else 16
    ground = rectangle("ground", start - 400, GROUND - 0.5, width + 800, foot + 1)
    body = _hills(start, width) + drawn + lit + ground + _juice(slugs, current, start)
    if numbers:
        body += _numbers(slugs, current)
    view = (start, -34, width, GROUND + 34 + foot)
    drawing = svg(view, body, kind=f"frieze {kind}".strip(), label=label)
    return _cut_at_its_sides(drawing) if window else drawing


def wall_view(at: int) -> str:
    """Return the view box in which the stop at a place of the walk stands at the right; -1 is before them all."""
    return f"{at * CELL - 348} -34 640 {GROUND + 50}"


def wall_walk(slugs: Sequence[str], at: int) -> Markup:
    """Return the walk for a wall, each stop drawn once: that at `at` is lit, the next dimmed, the others away.

    A script goes on by the classes of the stops and the view box. The last stop comes first,
    so that each stands before the next.
    """
    states = {at: "lit", at + 1: "dimmed"} if at >= 0 else {}
    stops = [
        group(shapes_of(slug), kind=states.get(i, "away"), at=(i * CELL, 0)) for i, slug in enumerate(slugs)
    ]
    start, width = -2 * CELL - 348, (len(slugs) + 4) * CELL
    ground = rectangle("ground", start, GROUND - 0.5, width, 17)
    x, y, across, down = (float(value) for value in wall_view(at).split())
    drawing = svg(
        (x, y, across, down), _hills(start, width) + "".join(reversed(stops)) + ground, kind="frieze"
    )
    return _cut_at_its_sides(drawing)


def _cut_at_its_sides(drawing: Markup) -> Markup:
    """Return a part of the row that fills what room it gets and is cut at its sides."""
    return Markup(str(drawing).replace("<svg ", '<svg preserveAspectRatio="xMidYMid slice" ', 1))


def _juice(slugs: Sequence[str], current: str | None, start: float) -> str:
    if current not in slugs:
        return ""
    end = slugs.index(current) * CELL + CELL / 2
    return rectangle("juice-line", start - 400, GROUND, end - start + 400, 5.5)


def _numbers(slugs: Sequence[str], current: str | None) -> str:
    return "".join(
        text(
            f"num mid stop-number{' lit' if slug == current else ''}",
            i * CELL + CELL / 2,
            GROUND + 31,
            str(i + 1),
            26,
        )
        for i, slug in enumerate(slugs)
    )
