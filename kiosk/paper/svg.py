"""Writes drawings as SVG for a strict content policy: colours are classes, no style is inline.

The shapes are reportlab's, which prints them on paper; for the screen they are
written here. A colour of the palette becomes a class (`f-copper` fills, `s-ink`
strokes) that `static/css/pictures.css` paints, in the light and in the dim room.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from reportlab.graphics import shapes
from reportlab.lib.colors import Color

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
