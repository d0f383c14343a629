"""Drawings of the house on paper: the SVG of `kiosk.drawings` painted on a page, in colour or in one ink.

It reads what `kiosk.drawings.ink` writes and no other SVG: paths, circles, texts and groups with
classes. In one ink clay becomes slanting lines and the tint rows of dots; a dimmed shape is an outline.
"""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final
from xml.etree import ElementTree

from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from kiosk.drawings.ink import RIM, TUBES, WIDTHS
from kiosk.paper import fonts

Point = tuple[float, float]
Step = tuple[str, tuple[float, ...]]

_SVG: Final = "{http://www.w3.org/2000/svg}"
# Widths on paper, in points, of the lines that keep theirs at any size.
_FIXED: Final = {"a": 1.1, "b": 0.75, "f": 0.45, "lead": 0.9, "lead-rim": 2.4}
_ARGUMENTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "T": 2, "A": 7, "Z": 0}
_FILLED_LIKE: Final = {
    "letter": "k",
    "lead-end": "k",
    "ground": "s",
    "hill": "t",
    "sun": "y",
    "juice-line": "y",
    "letter-text": "p",
    "i": "k",
    "o": "p",
}
# An icon's lines: its ink, and the widths of its strokes.
_ICON_LINES: Final = {"li": "k", "lo": "p"}
_WIDTHS: Final = {**WIDTHS, "b0": 1.9, "b1": 3.2, "b3": 7.5}
_ONE_INK_PATTERNS: Final = {"c": "hatch", "t": "dots"}


class NotDrawn(ValueError):
    """Raised for an element or a class that drawings do not use."""


@dataclass(frozen=True)
class Inks:
    """The colours of a print by the ink's letter; `patterns` fills an ink with lines or dots of the key."""

    colours: Mapping[str, Color]
    patterns: Mapping[str, str]


def on_juice(colours: Mapping[str, str]) -> Inks:
    """Return the inks of a print on the juice of a house, from the inks' colours by name."""
    names = {
        "k": "on-juice",
        "c": "clay",
        "y": "juice-light",
        "p": "juice",
        "t": "juice-low",
        "s": "next-text",
    }
    return Inks({ink: HexColor(colours[name]) for ink, name in names.items()}, {})


def on_white(colours: Mapping[str, str]) -> Inks:
    """Return the inks of a print on white paper, from the inks' colours by name."""
    names = {"k": "act", "c": "clay", "y": "juice", "t": "tint", "s": "ink"}
    return Inks(
        {"p": HexColor("#ffffff"), **{ink: HexColor(colours[name]) for ink, name in names.items()}}, {}
    )


def icon_inks(key: str, ground: str) -> Inks:
    """Return the inks of an icon in one colour on a ground."""
    return Inks({"k": HexColor(key), "p": HexColor(ground)}, {})


def one_ink(value: str = "#000000") -> Inks:
    """Return the inks of a print in one colour."""
    ink, white = HexColor(value), HexColor("#ffffff")
    return Inks({"k": ink, "c": white, "y": white, "p": white, "t": white, "s": ink}, _ONE_INK_PATTERNS)


class PrintedDrawing(Flowable):
    """A drawing in a column of a page, as wide as given and as tall as its view box asks.

    Raises NotDrawn for SVG that is not the house's.
    """

    def __init__(self, drawing: str, width: float, inks: Inks) -> None:
        super().__init__()
        self.root = ElementTree.fromstring(drawing)
        x, y, across, down = (float(v) for v in self.root.attrib["viewBox"].split())
        self.inks, self.origin, self.scale = inks, (x, y), width / across
        self.width, self.height = width, down * self.scale

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return the size that the drawing takes."""
        return self.width, self.height

    def draw(self) -> None:
        """Paint the drawing on the canvas of the page."""
        paint(self.canv, self.root, self.inks, self.origin, self.scale, self.height)


def paint(
    canvas: Canvas, root: ElementTree.Element, inks: Inks, origin: Point, scale: float, height: float
) -> None:
    """Paint a drawing with its lower left corner at the canvas's origin; y of the drawing grows downward."""
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(0, 0, float(root.attrib["viewBox"].split()[2]) * scale, height)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(-origin[0] * scale, height + origin[1] * scale)
    canvas.scale(scale, -scale)
    _elements(canvas, root, inks, scale, frozenset())
    canvas.restoreState()


def _elements(
    canvas: Canvas, parent: ElementTree.Element, inks: Inks, scale: float, around: frozenset[str]
) -> None:
    for element in parent:
        tag, classes = element.tag.removeprefix(_SVG), element.attrib.get("class", "").split()
        if tag == "g":
            canvas.saveState()
            grown = scale * _transform(canvas, element.attrib.get("transform", ""))
            _elements(canvas, element, inks, grown, around | set(classes))
            canvas.restoreState()
        elif tag == "text":
            _text(canvas, element, classes, inks)
        elif tag in ("path", "circle"):
            steps = _circle(element) if tag == "circle" else list(absolute(element.attrib["d"]))
            _shape(canvas, steps, classes, inks, scale, "dimmed" in around)
        else:
            raise NotDrawn(tag)


def _transform(canvas: Canvas, text: str) -> float:
    """Apply a group's moves to the canvas and return how much they enlarge."""
    grown = 1.0
    for name, numbers in re.findall(r"(\w+)\(([^)]*)\)", text):
        x, y = (float(v) for v in numbers.split())
        if name == "translate":
            canvas.translate(x, y)
        elif name == "scale":
            canvas.scale(x, y)
            grown *= abs(y)
        else:
            raise NotDrawn(name)
    return grown


def _text(canvas: Canvas, element: ElementTree.Element, classes: list[str], inks: Inks) -> None:
    size, words = float(element.attrib["font-size"]), element.text or ""
    canvas.saveState()
    canvas.translate(float(element.attrib["x"]), float(element.attrib["y"]))
    canvas.scale(1, -1)
    words, face = fonts.heading(words, size) if "num" in classes else (words, fonts.BOLD)
    canvas.setFont(face, size)
    canvas.setFillColor(inks.colours[_ink(classes) or "s"])
    if "mid" in classes or "letter-text" in classes:
        canvas.drawCentredString(0, 0, words)
    elif "end" in classes:
        canvas.drawRightString(0, 0, words)
    else:
        canvas.drawString(0, 0, words)
    canvas.restoreState()


def _ink(classes: list[str]) -> str | None:
    for name in classes:
        if name in _FILLED_LIKE:
            return _FILLED_LIKE[name]
    return next((name for name in classes if len(name) == 1 and name in "kcypts"), None)


def _line(classes: list[str], scale: float) -> tuple[str, float] | None:
    """Return the ink and width of a shape's line, in units of the drawing, or None without a line."""
    for name in classes:
        if name in _FIXED:
            return ("p" if name == "lead-rim" else "k" if name == "lead" else "s"), _FIXED[name] / scale
        if name in TUBES:
            return ("c" if name.endswith("core") else "s"), TUBES[name]
        if len(name) == 2 and name[0] == "l":
            width = next((_WIDTHS[w] for w in classes if w in _WIDTHS), 1.0)
            return _ICON_LINES.get(name, "s" if name == "la" else name[1]), width
    return None


def _shape(
    canvas: Canvas, steps: list[Step], classes: list[str], inks: Inks, scale: float, dimmed: bool
) -> None:
    fill, line = _ink(classes), _line(classes, scale)
    if fill is None and line is None:
        raise NotDrawn(" ".join(classes))
    path = _path(canvas, steps)
    canvas.saveState()
    canvas.setLineJoin(1)
    if "h" in classes:
        canvas.setStrokeColor(inks.colours["p"])
        canvas.setLineWidth(RIM)
        canvas.drawPath(path, stroke=1, fill=0)
    if fill is not None:
        _fill(canvas, path, steps, fill, inks, scale, dimmed)
    if line is not None:
        runs = inks.patterns and line[0] == "c" and classes[0] not in TUBES
        canvas.setStrokeColor(inks.colours["k" if runs else line[0]])
        canvas.setLineWidth(line[1])
        canvas.setLineCap(1 if "r" in classes else 0)
        if "d" in classes:
            canvas.setDash(5, 4)
        if "gap" in classes:
            canvas.setDash(9.7, 3.4)
        canvas.drawPath(path, stroke=1, fill=0)
    canvas.restoreState()


def _fill(
    canvas: Canvas, path: Any, steps: list[Step], ink: str, inks: Inks, scale: float, dimmed: bool
) -> None:
    pattern = inks.patterns.get(ink)
    canvas.setFillColor(inks.colours["p"] if dimmed else inks.colours[ink])
    canvas.drawPath(path, stroke=0, fill=1)
    if pattern or dimmed or (inks.patterns and ink == "y"):
        canvas.setStrokeColor(inks.colours["k"])
        canvas.setLineWidth(0.4 / scale)
        if pattern and not dimmed:
            canvas.saveState()
            canvas.clipPath(path, stroke=0, fill=0)
            _pattern(canvas, pattern, steps, scale, inks.colours["k"])
            canvas.restoreState()
        canvas.drawPath(path, stroke=1, fill=0)


def _pattern(canvas: Canvas, pattern: str, steps: list[Step], scale: float, key: Color) -> None:
    """Cover a shape's box with slanting lines or dots, 1.6 or 2.4 points apart on paper."""
    xs = [v for _, values in steps for v in values[0::2]]
    ys = [v for _, values in steps for v in values[1::2]]
    left, right, top, foot = min(xs), max(xs), min(ys), max(ys)
    if pattern == "hatch":
        step, at = 1.6 / scale, left - (foot - top)
        canvas.setLineWidth(0.55 / scale)
        while at < right:
            canvas.line(at, foot, at + foot - top, top)
            at += step * math.sqrt(2)
        return
    step = 2.4 / scale
    canvas.setStrokeColor(key)
    canvas.setLineWidth(0.6 / scale)
    canvas.setLineCap(1)
    for row in range(int((foot - top) / step) + 1):
        canvas.setDash([0.001 / scale, step], (row % 2) * step / 2)
        canvas.line(left, top + row * step, right, top + row * step)


def _path(canvas: Canvas, steps: list[Step]) -> Any:
    path = canvas.beginPath()
    for command, values in steps:
        if command == "M":
            path.moveTo(*values)
        elif command == "L":
            path.lineTo(*values)
        elif command == "C":
            path.curveTo(*values)
        else:
            path.close()
    return path


def _circle(element: ElementTree.Element) -> list[Step]:
    x, y, r = (float(element.attrib[name]) for name in ("cx", "cy", "r"))
    return list(absolute(f"M{x - r} {y}A{r} {r} 0 1 1 {x + r} {y}A{r} {r} 0 1 1 {x - r} {y}Z"))


def absolute(d: str) -> Iterator[Step]:
    """Yield path data as absolute moves, lines and cubic curves.

    Raises NotDrawn for a command that drawings do not use.
    """
    here = start = control = (0.0, 0.0)
    for command, numbers in re.findall(r"([A-Za-z])([^A-Za-z]*)", d):
        count = _ARGUMENTS.get(command.upper())
        if count is None:
            raise NotDrawn(f"path command {command}")
        values = [float(v) for v in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", numbers)]
        if count == 0:
            yield "Z", ()
            here = start
            continue
        for i in range(0, len(values), count):
            name = "L" if command in "Mm" and i else command.upper()
            part = _from_here(name, values[i : i + count], here, command.islower())
            if name == "T":  # its control point mirrors the one before
                name, part = "Q", (2 * here[0] - control[0], 2 * here[1] - control[1], *part)
            yield from _curves(name, part, here)
            here = part[-2], part[-1]
            control = (part[0], part[1]) if name == "Q" else here
            start = here if name == "M" else start


def _from_here(name: str, values: list[float], here: Point, relative: bool) -> tuple[float, ...]:
    """Return a command's numbers as absolute points; a level or upright line gets both of its."""
    x, y = here if relative else (0.0, 0.0)
    if name == "H":
        return values[0] + x, here[1]
    if name == "V":
        return here[0], values[0] + y
    if name == "A":
        return (*values[:5], values[5] + x, values[6] + y)
    return tuple(v + (y if i % 2 else x) for i, v in enumerate(values))


def _curves(name: str, part: tuple[float, ...], here: Point) -> Iterator[Step]:
    if name == "M":
        yield "M", part
    elif name in "LHV":
        yield "L", part[-2:]
    elif name == "C":
        yield "C", part
    elif name == "Q":
        (qx, qy), (x, y) = part[:2], part[2:]
        first = (here[0] + 2 / 3 * (qx - here[0]), here[1] + 2 / 3 * (qy - here[1]))
        yield "C", (*first, x + 2 / 3 * (qx - x), y + 2 / 3 * (qy - y), x, y)
    else:
        yield from _arc(here, part)


def _arc(here: Point, part: tuple[float, ...]) -> Iterator[Step]:
    """Yield an arc of an upright ellipse as cubic curves, each at most a quarter.

    Centre and angles follow the SVG specification, appendix "Elliptical arc implementation notes".
    """
    rx, ry, _, large, sweep, x, y = part
    hx, hy = (here[0] - x) / 2, (here[1] - y) / 2
    grow = math.sqrt(max(1.0, (hx / rx) ** 2 + (hy / ry) ** 2))
    rx, ry = rx * grow, ry * grow
    bottom = (rx * hy) ** 2 + (ry * hx) ** 2
    if bottom == 0:
        return
    root = math.sqrt(max(0.0, ((rx * ry) ** 2 - bottom) / bottom)) * (1 if bool(large) != bool(sweep) else -1)
    ox, oy = root * rx * hy / ry, -root * ry * hx / rx
    cx, cy = ox + (here[0] + x) / 2, oy + (here[1] + y) / 2
    first = math.atan2((hy - oy) / ry, (hx - ox) / rx)
    turn = math.atan2((-hy - oy) / ry, (-hx - ox) / rx) - first
    turn += 2 * math.pi if sweep and turn < 0 else -2 * math.pi if not sweep and turn > 0 else 0
    count = max(1, math.ceil(abs(turn) / (math.pi / 2) - 1e-9))
    step = turn / count
    k = 4 / 3 * math.tan(step / 4)
    for i in range(count):
        a, b = first + i * step, first + (i + 1) * step
        yield (
            "C",
            (
                *(cx + rx * (math.cos(a) - k * math.sin(a)), cy + ry * (math.sin(a) + k * math.cos(a))),
                *(cx + rx * (math.cos(b) + k * math.sin(b)), cy + ry * (math.sin(b) - k * math.cos(b))),
                *(cx + rx * math.cos(b), cy + ry * math.sin(b)),
            ),
        )
