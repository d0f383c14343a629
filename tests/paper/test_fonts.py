"""The typeface: every letter that we print is in it, or is replaced.

All printed text goes through one escape.
"""

from __future__ import annotations

from datetime import time

import pytest
from babel.dates import format_time
from reportlab.pdfbase import pdfmetrics

from kiosk.paper import fonts, text


def test_registering_twice_is_fine() -> None:
    fonts.register()
    fonts.register()
    assert set(fonts.FILES) <= set(pdfmetrics.getRegisteredFontNames())


@pytest.mark.parametrize("letters", ["áéíóúüñÁÉÍÓÚÜÑ¿¡", "«»“”‘’–—…·•", "°³½×−%", "łőžçßø", "\u00a0"])
def test_the_typeface_has_the_letters_of_the_house(letters: str) -> None:
    assert set(letters) <= fonts.glyphs()


@pytest.mark.parametrize("locale", ["en_US", "es_PR", "es_ES", "es_MX", "en_GB"])
def test_every_time_that_cldr_writes_can_be_printed(locale: str) -> None:
    for hour in range(24):
        shown = fonts.printable(format_time(time(hour, 5), "short", locale=locale))
        assert set(shown) <= fonts.glyphs()
        assert fonts.NO_GLYPH not in shown


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("10:00\u202fAM", "10:00\u00a0AM"),
        ("Nu\u0301n\u0303ez", "Núñez"),
        ("a\tb\nc", "a b c"),
        ("bell\x07", "bell"),
        ("ron \U0001f943", "ron ?"),
        ("李", "?"),
    ],
)
def test_what_has_no_glyph_is_replaced_and_never_an_empty_box(value: str, shown: str) -> None:
    assert fonts.printable(value) == shown


def test_the_licence_lies_beside_the_fonts() -> None:
    assert "SIL Open Font License, Version 1.1" in (fonts.FOLDER / "OFL.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("value", "escaped"),
    [
        ("Ana <b>", "Ana &lt;b&gt;"),
        ('<img src="/etc/hosts"/>', "&lt;img src=&quot;/etc/hosts&quot;/&gt;"),
        ("caña & ron", "caña &amp; ron"),
        ("&lt;", "&amp;lt;"),
        (12, "12"),
    ],
)
def test_marks_of_markup_become_letters(value: object, escaped: str) -> None:
    assert text(value) == escaped


@pytest.mark.parametrize(
    ("value", "size", "set_as"),
    [
        ("Still house", 30, ("STILL HOUSE", fonts.DISPLAY)),
        ("Año 3", 14, ("AÑO 3", fonts.STAMP)),
        ("Łódź", 30, ("Łódź", fonts.BOLD)),
    ],
)
def test_a_heading_is_in_the_stencil_where_it_has_every_character(
    value: str, size: float, set_as: tuple[str, str]
) -> None:
    assert fonts.heading(value, size) == set_as
