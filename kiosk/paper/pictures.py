"""Pictures of records: one drawing for screen and paper, with its title, words and table.

Sizes are in points of a drawing 440 wide: on a phone its letters stay readable, on
paper it fills a column. The shapes are reportlab's, which prints them. For the screen
they are written here as SVG for a strict content policy: a colour of the palette becomes
a class (`f-copper` fills, `s-ink` strokes) that `static/css/pictures.css` paints in the
light and in the dim room, and no style is inline.
"""

from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from html import escape
from typing import Any, Literal

from markupsafe import Markup
from reportlab.graphics import shapes
from reportlab.lib.colors import Color, HexColor

from kiosk.drawings.inks import INKS, on_paper
from kiosk.paper import fonts
from kiosk.paper.fonts import BOLD


class NotDrawn(ValueError):
    """Raised for a shape or colour that pictures do not use."""


def write(
    drawing: shapes.Drawing, palette: Mapping[str, Color], *, title: str, description: str, ident: str
) -> str:
    """Return a drawing as an SVG element; `ident` makes its ids unique on the page.

    Raises NotDrawn for a shape that this module does not write or a colour outside the palette.
    """
    names = {_key(colour): name for name, colour in palette.items()}
    parts = "".join(_shapes(drawing.contents, float(drawing.height), names))
    return (
        f'<svg class="picture-drawing" viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" role="img" '
        f'aria-labelledby="{escape(ident)}-t {escape(ident)}-d">'
        f'<title id="{escape(ident)}-t">{escape(title)}</title>'
        f'<desc id="{escape(ident)}-d">{escape(description)}</desc>{parts}</svg>'
    )


def _shapes(contents: list[Any], height: float, names: Mapping[Any, str]) -> Iterator[str]:
    for shape in contents:
        if isinstance(shape, shapes.Group):
            if tuple(shape.transform) != (1, 0, 0, 1, 0, 0):
                raise NotDrawn("a group that is moved or turned")
            yield from _shapes(shape.contents, height, names)
        elif isinstance(shape, shapes.String):
            yield _string(shape, height, names)
        else:
            tag, attributes = _outline(shape, height)
            yield f"<{tag} {attributes}{_paint(shape, names)}/>"


def _outline(shape: Any, height: float) -> tuple[str, str]:
    if isinstance(shape, shapes.Line):
        ends = (shape.x1, height - shape.y1, shape.x2, height - shape.y2)
        return "line", _attributes(("x1", "y1", "x2", "y2"), ends)
    if isinstance(shape, shapes.Rect):
        box = (shape.x, height - shape.y - shape.height, shape.width, shape.height)
        return "rect", _attributes(("x", "y", "width", "height", "rx"), (*box, shape.rx or 0))
    if isinstance(shape, shapes.Circle):
        return "circle", _attributes(("cx", "cy", "r"), (shape.cx, height - shape.cy, shape.r))
    if isinstance(shape, shapes.PolyLine | shapes.Polygon):
        pairs = zip(shape.points[::2], shape.points[1::2], strict=True)
        points = " ".join(f"{_n(x)},{_n(height - y)}" for x, y in pairs)
        return ("polygon" if isinstance(shape, shapes.Polygon) else "polyline"), f'points="{points}"'
    if isinstance(shape, shapes.Path):
        return "path", f'd="{_path(shape, height)}"'
    raise NotDrawn(type(shape).__name__)


_STEPS = (("M", 1), ("L", 1), ("C", 3), ("Z", 0))


def _path(shape: shapes.Path, height: float) -> str:
    values, steps = iter(shape.points), []
    for operator in shape.operators:
        letter, pairs = _STEPS[int(operator)]
        numbers = (f"{_n(next(values))} {_n(height - next(values))}" for _ in range(pairs))
        steps.append(letter + " ".join(numbers))
    return "".join(steps)


def _string(shape: shapes.String, height: float, names: Mapping[Any, str]) -> str:
    weight = " strong" if shape.fontName == BOLD else ""
    place = _attributes(("x", "y", "font-size"), (shape.x, height - shape.y, shape.fontSize))
    name = _named(shape.fillColor, names)
    anchor = f' text-anchor="{shape.textAnchor}"' if shape.textAnchor != "start" else ""
    return f'<text class="f-{name}{weight}" {place}{anchor}>{escape(shape.text)}</text>'


def _paint(shape: Any, names: Mapping[Any, str]) -> str:
    fill, stroke = getattr(shape, "fillColor", None), shape.strokeColor
    fill_class = f"f-{_named(fill, names)}" if fill is not None else "f-none"
    stroke_class = f" s-{_named(stroke, names)}" if stroke is not None else ""
    text = f' class="{fill_class}{stroke_class}"'
    if stroke is not None:
        text += f' stroke-width="{_n(shape.strokeWidth)}"'
        dashes = shape.strokeDashArray
        text += f' stroke-dasharray="{" ".join(map(_n, dashes))}"' if dashes else ""
    return text


def _named(colour: Any, names: Mapping[Any, str]) -> str:
    try:
        return names[_key(colour)]
    except KeyError:
        raise NotDrawn(f"a colour outside the palette: {colour}") from None


def _key(colour: Color) -> tuple[float, ...]:
    return (colour.red, colour.green, colour.blue, colour.alpha)


def _attributes(keys: tuple[str, ...], values: tuple[float, ...]) -> str:
    return " ".join(f'{key}="{_n(value)}"' for key, value in zip(keys, values, strict=True))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


WIDTH = 440.0
SMALL, PLAIN = 12.0, 13.0

_INKS = on_paper(INKS)
PALETTE: Mapping[str, Color] = {
    "ink": HexColor(_INKS["ink"]),
    "quiet": HexColor(_INKS["muted"]),
    "line": HexColor(_INKS["rule"]),
    "paper": HexColor("#ffffff"),
    "copper": HexColor(_INKS["clay"]),
    "copper-soft": HexColor("#f0c7b2"),
    "cane": HexColor(_INKS["act"]),
    "cane-soft": HexColor("#f7e08a"),
    "rest": HexColor(_INKS["field-high"]),
    "rest-soft": HexColor("#dfc9da"),
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
    _written: dict[str, Markup] = field(default_factory=dict, compare=False, repr=False)

    def svg(self, place: str = "") -> Markup:
        """Return the drawing for the screen; `place` makes its ids unique where a page has it twice."""
        if place not in self._written:
            ident = f"picture-{self.name}{'-' if place else ''}{place}"
            svg = write(self.drawing, PALETTE, title=self.title, description=self.description, ident=ident)
            self._written[place] = Markup(svg)
        return self._written[place]

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
