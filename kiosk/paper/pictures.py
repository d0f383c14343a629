"""Pictures of records: one drawing for screen and paper, with its title, words and table.

Sizes are in points of a drawing 440 wide: on a phone its letters stay readable,
on paper it fills a column.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Literal

from markupsafe import Markup
from reportlab.graphics import shapes
from reportlab.lib.colors import Color, HexColor

from kiosk.paper import fonts, svg

WIDTH = 440.0
SMALL, PLAIN = 12.0, 13.0

PALETTE: Mapping[str, Color] = {
    "ink": HexColor("#2a211a"),
    "quiet": HexColor("#5f5243"),
    "line": HexColor("#ddd0ba"),
    "paper": HexColor("#fffdf9"),
    "copper": HexColor("#98491a"),
    "copper-soft": HexColor("#f0d3ba"),
    "cane": HexColor("#24512f"),
    "cane-soft": HexColor("#d3e2c4"),
    "rest": HexColor("#4a4f7a"),
    "rest-soft": HexColor("#dcdcea"),
}
INK, QUIET, LINE, PAPER = (PALETTE[name] for name in ("ink", "quiet", "line", "paper"))
COPPER, COPPER_SOFT = PALETTE["copper"], PALETTE["copper-soft"]
CANE, CANE_SOFT = PALETTE["cane"], PALETTE["cane-soft"]
REST, REST_SOFT = PALETTE["rest"], PALETTE["rest-soft"]

Rows = Sequence[Sequence[str]]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its title, its description and its data as `rows` under `head`, in one language."""

    name: str  # unique on a page: letters, digits and hyphens
    title: str
    description: str
    drawing: shapes.Drawing
    head: Sequence[str] = ()
    rows: Rows = field(default=())

    def svg(self, place: str = "") -> Markup:
        """Return the drawing for the screen; `place` makes its ids unique where a page has it twice."""
        ident = f"picture-{self.name}{'-' if place else ''}{place}"
        return Markup(
            svg.write(self.drawing, PALETTE, title=self.title, description=self.description, ident=ident)
        )

    def printed(self) -> shapes.Drawing:
        """Return the drawing for paper, with only the characters that the typeface can print."""
        fonts.register()
        printed = deepcopy(self.drawing)
        for shape in printed.contents:
            if isinstance(shape, shapes.String):
                shape.text = fonts.printable(shape.text)
        return printed


def empty(height: float) -> shapes.Drawing:
    """Return an empty drawing."""
    fonts.register()
    return shapes.Drawing(WIDTH, height)


def label(
    x: float,
    y: float,
    text: str,
    *,
    size: float = PLAIN,
    colour: Color = INK,
    anchor: Anchor = "start",
    strong: bool = False,
) -> shapes.String:
    """Return a text of a drawing."""
    face = fonts.BOLD if strong else fonts.REGULAR
    return shapes.String(x, y, text, fontName=face, fontSize=size, fillColor=colour, textAnchor=anchor)


def stroke(
    points: Sequence[tuple[float, float]],
    colour: Color,
    width: float = 2.0,
    dashes: Sequence[float] | None = None,
) -> shapes.PolyLine:
    """Return a line through points."""
    line = shapes.PolyLine([n for point in points for n in point], strokeColor=colour, strokeWidth=width)
    if dashes:
        line.strokeDashArray = list(dashes)
    line.strokeLineCap = line.strokeLineJoin = 1
    return line


def area(points: Sequence[tuple[float, float]], colour: Color) -> shapes.Polygon:
    """Return a filled outline."""
    return shapes.Polygon([n for point in points for n in point], fillColor=colour, strokeColor=None)


def box(x: float, y: float, width: float, height: float, colour: Color) -> shapes.Rect:
    """Return a filled rectangle."""
    return shapes.Rect(x, y, width, height, fillColor=colour, strokeColor=None)  # type: ignore[arg-type]
