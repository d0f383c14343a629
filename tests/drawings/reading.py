"""Reads what drawings write: elements, classes, points in the units of the view box."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from kiosk.paper.vectors import absolute

SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {
    "svg": {"class", "viewBox", "role", "aria-label", "aria-hidden", "focusable"},
    "g": {"class", "transform"},
    "path": {"class", "d"},
    "circle": {"class", "cx", "cy", "r"},
    "text": {"class", "x", "y", "font-size"},
}


def parse(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(str(drawing))


def classes(drawing: str) -> set[str]:
    return {name for element in parse(drawing).iter() for name in element.attrib.get("class", "").split()}


def faults(drawing: str) -> list[str]:
    """Return every tag and attribute that a drawing may not have: no style, no colour, no id, no script."""
    out = []
    for element in parse(drawing).iter():
        tag = element.tag.removeprefix(SVG)
        if tag not in ALLOWED:
            out.append(tag)
        else:
            out += [f"{tag} {name}" for name in element.attrib if name not in ALLOWED[tag]]
    return out


def points(drawing: str) -> Iterator[tuple[str, float, float]]:
    """Yield the class and place of each corner, centre and control point; groups are moved."""
    yield from _points(parse(drawing), (1.0, 1.0, 0.0, 0.0))


def _points(
    element: ElementTree.Element, move: tuple[float, float, float, float]
) -> Iterator[tuple[str, float, float]]:
    kx, ky, dx, dy = move
    for name, numbers in re.findall(r"(\w+)\(([^)]*)\)", element.attrib.get("transform", "")):
        a, b = (float(v) for v in numbers.split())
        if name == "translate":
            dx, dy = dx + a * kx, dy + b * ky
        else:
            kx, ky = kx * a, ky * b
    kind = element.attrib.get("class", "")
    if "d" in element.attrib:
        for _, values in absolute(element.attrib["d"]):
            for x, y in zip(values[::2], values[1::2], strict=True):
                yield kind, x * kx + dx, y * ky + dy
    elif "r" in element.attrib:
        x, y, r = (float(element.attrib[key]) for key in ("cx", "cy", "r"))
        for ox, oy in ((-r, 0), (r, 0), (0, -r), (0, r)):
            yield kind, (x + ox) * kx + dx, (y + oy) * ky + dy
    for child in element:
        yield from _points(child, (kx, ky, dx, dy))


def shapes(drawing: str, kind: str) -> list[list[tuple[float, float]]]:
    """Return the points of each path of a class, curves by their control points."""
    out = []
    for element in parse(drawing).iter(f"{SVG}path"):
        if kind == element.attrib["class"]:
            found = []
            for _, values in absolute(element.attrib["d"]):
                found += list(zip(values[::2], values[1::2], strict=True))
            out.append(found)
    return out
