"""The code matrix on paper and on a page.

Sheets: sizes, embedded fonts, the same bytes every time.
"""

from __future__ import annotations

import re
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from kiosk.paper import fonts, sheet
from kiosk.paper.sheet import Paper
from tests.paper.reading import embedded, fonts_in, pictures, read_by_both, words_on

ADDRESS = "https://visit.loma-candil.example/s/still-house"


def test_the_symbol_has_a_side_of_17_plus_4_times_its_version() -> None:
    # ISO/IEC 18004 as given in several library manuals
    side = len(sheet.matrix(ADDRESS))
    assert (side - 17) % 4 == 0
    assert all(len(row) == side for row in sheet.matrix(ADDRESS))


def test_runs_are_the_dark_modules_and_no_other() -> None:
    modules = sheet.matrix(ADDRESS)
    dark = {(run.row, run.column + step) for run in sheet.runs(modules) for step in range(run.length)}
    assert dark == {(r, c) for r, row in enumerate(modules) for c, module in enumerate(row) if module}


def test_runs_do_not_touch() -> None:
    found = list(sheet.runs(sheet.matrix(ADDRESS)))
    for one, other in pairwise(found):
        assert one.row != other.row or one.column + one.length < other.column


@pytest.mark.parametrize("side", [42.0, 120.0, 400.0])
def test_a_drawn_code_is_read_by_two_decoders(side: float) -> None:
    out = BytesIO()
    canvas = Canvas(out, pagesize=(side + 40, side + 40), invariant=1)
    sheet.draw(canvas, ADDRESS, 20, 20, side)
    canvas.save()
    assert read_by_both(pictures(out.getvalue())[0]) == ([ADDRESS], ADDRESS)


def test_the_svg_holds_the_same_modules_and_says_what_it_is() -> None:
    picture = sheet.svg(ADDRESS, "Still house", 'Opens "the page" <now>', "still")
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


def printed(words: str, paper: Paper = Paper.A4) -> bytes:
    out = BytesIO()
    canvas = sheet.start(out, paper, words, "Small Site", "en")
    sheet.write(canvas, words, sheet.style(12), 50, 700, 400)
    sheet.write(canvas, words, sheet.style(12, font=fonts.BOLD), 50, 600, 400)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


@pytest.mark.parametrize(("paper", "pixels"), [(Paper.A4, (210, 297)), (Paper.LETTER, (216, 279))])
def test_a_sheet_has_its_size(paper: Paper, pixels: tuple[int, int]) -> None:
    # 25.4 dots an inch are one a millimetre: A4 by ISO 216, Letter 8.5 x 11 inches
    width, high = pictures(printed("x", paper), dpi=254)[0].size
    assert (round(width / 10), round(high / 10)) == pixels


def test_only_embedded_fonts_are_listed() -> None:
    pdf = printed("caña")
    assert {name.split("+")[1] for name in fonts_in(pdf)} == {
        "AtkinsonHyperlegible-Regular",
        "AtkinsonHyperlegible-Bold",
    }
    assert embedded(pdf) == 2


def test_the_same_sheet_has_the_same_bytes() -> None:
    assert printed("caña") == printed("caña")


def test_markup_in_a_text_is_printed_as_it_stands() -> None:
    shown = words_on(printed('<img src="/etc/hosts"/> & <b>Ana'))
    assert '<img src="/etc/hosts"/> & <b>Ana' in shown


def test_spanish_is_printed_whole() -> None:
    assert "¿Guarapo o añejo? ¡Así, señora!" in words_on(printed("¿Guarapo o añejo? ¡Así, señora!"))


def test_writing_returns_the_lower_edge() -> None:
    canvas = sheet.start(BytesIO(), Paper.A4, "t", "a", "en")
    look = sheet.style(10, lead=1.2)
    assert sheet.write(canvas, "one line", look, 0, 100, 400) == pytest.approx(88)
    assert sheet.height("one line", look, 400) == pytest.approx(12)


def test_a_heading_is_set_in_capitals_in_line_and_in_paragraph_and_falls_back_to_the_text_face() -> None:
    look = sheet.style(24, font=fonts.DISPLAY)
    for words, printed in (("Cierre", "CIERRE"), ("Łódź", "Łódź")):
        out = BytesIO()
        canvas = sheet.start(out, Paper.A4, "t", "a", "es")
        sheet.block(words, look, 300).draw(canvas, 50, 700)
        sheet.write(canvas, words, look, 50, 600, 300)
        canvas.showPage()
        canvas.save()
        assert words_on(out.getvalue()).split() == [printed, printed]
