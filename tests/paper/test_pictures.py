"""Drawings for the screen carry no colour of their own."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from reportlab.graphics import shapes
from reportlab.lib.colors import HexColor

from kiosk.paper import pictures
from kiosk.paper.charts import Node, flow
from kiosk.paper.pictures import CANE, CANE_SOFT, PALETTE


def a_flow() -> shapes.Drawing:
    fields = [
        Node("a", "<Hill>", "60%", 0.6, CANE, CANE_SOFT),
        Node("b", "Vega & Co", "40%", 0.4, CANE, CANE_SOFT),
    ]
    lot = Node("lot", "L-1", "", 1.0, CANE, CANE_SOFT)
    return flow([fields, [lot]], {("a", "lot"): 0.6, ("b", "lot"): 0.4})


def written(drawing: shapes.Drawing, ident: str = "p") -> str:
    return pictures.write(drawing, PALETTE, title="A <title>", description="What & where", ident=ident)


def test_a_drawing_has_title_words_and_no_colour_or_style() -> None:
    text = written(a_flow())
    root = ElementTree.fromstring(text)
    assert [child.text for child in root][:2] == ["A <title>", "What & where"]
    assert root.get("aria-labelledby") == "p-t p-d"
    assert not re.search(r"style=|#[0-9a-f]{3,6}|rgb|fill=|stroke=", text)


def test_bands_are_as_broad_as_their_shares() -> None:
    paths = [el for el in ElementTree.fromstring(written(a_flow())) if el.tag == "path"]
    broad = []
    for path in paths:
        corners = [float(n) for n in re.findall(r"-?[\d.]+", path.get("d") or "")]
        broad.append(abs(corners[-1] - corners[1]))
    assert broad[0] / broad[1] == pytest.approx(1.5, rel=0.01)


def test_a_colour_outside_the_palette_is_refused() -> None:
    drawing = pictures.empty(10)
    drawing.add(shapes.Rect(0, 0, 5, 5, fillColor=HexColor("#123456"), strokeColor=None))
    with pytest.raises(pictures.NotDrawn):
        written(drawing)


def test_every_class_of_the_palette_is_painted_by_the_stylesheet() -> None:
    css = Path(pictures.__file__).parents[1] / "web" / "static" / "css" / "pictures.css"

    assert [name for name in PALETTE if f".f-{name} " not in css.read_text()] == []
