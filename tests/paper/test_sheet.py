"""Sheets: sizes, embedded fonts, the same bytes every time."""

from __future__ import annotations

from io import BytesIO

import pytest

from kiosk.paper import fonts, sheet
from kiosk.paper.sheet import Paper
from tests.paper.reading import embedded, fonts_in, pictures, words_on


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
