"""The code matrix on paper and on a page."""

from __future__ import annotations

import re
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from kiosk.paper import code
from tests.paper.reading import pictures, read_by_both

ADDRESS = "https://visit.loma-candil.example/s/still-house"


def test_the_symbol_has_a_side_of_17_plus_4_times_its_version() -> None:
    # ISO/IEC 18004 as given in several library manuals
    side = len(code.matrix(ADDRESS))
    assert (side - 17) % 4 == 0
    assert all(len(row) == side for row in code.matrix(ADDRESS))


def test_runs_are_the_dark_modules_and_no_other() -> None:
    modules = code.matrix(ADDRESS)
    dark = {(run.row, run.column + step) for run in code.runs(modules) for step in range(run.length)}
    assert dark == {(r, c) for r, row in enumerate(modules) for c, module in enumerate(row) if module}


def test_runs_do_not_touch() -> None:
    found = list(code.runs(code.matrix(ADDRESS)))
    for one, other in pairwise(found):
        assert one.row != other.row or one.column + one.length < other.column


@pytest.mark.parametrize("side", [42.0, 120.0, 400.0])
def test_a_drawn_code_is_read_by_two_decoders(side: float) -> None:
    out = BytesIO()
    canvas = Canvas(out, pagesize=(side + 40, side + 40), invariant=1)
    code.draw(canvas, ADDRESS, 20, 20, side)
    canvas.save()
    assert read_by_both(pictures(out.getvalue())[0]) == ([ADDRESS], ADDRESS)


def test_the_svg_holds_the_same_modules_and_says_what_it_is() -> None:
    picture = code.svg(ADDRESS, "Still house", 'Opens "the page" <now>', "still")
    tree = ElementTree.fromstring(picture)
    side = int(tree.attrib["viewBox"].split()[2])
    drawn = Image.new("L", (side * 8, side * 8), 255)
    for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1", picture):
        left, top = int(x) * 8, int(y) * 8
        drawn.paste(0, (left, top, left + int(length) * 8, top + 8))
    assert read_by_both(drawn) == ([ADDRESS], ADDRESS)
    assert tree.attrib["aria-labelledby"] == "still-title still-desc"
    assert [tree[0].text, tree[1].text] == ["Still house", 'Opens "the page" <now>']
    assert "style" not in picture
