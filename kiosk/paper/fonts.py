"""The typefaces on paper, embedded in every file, and the escaping that all printed text passes.

Text is set in Atkinson Hyperlegible, headings and numbers in the house's stencil, which has
only capitals, digits and a few signs; both SIL Open Font License 1.1 (`fonts/OFL.txt`).
"""

import threading
import unicodedata
from functools import cache
from html import escape
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "KioskRegular"
BOLD = "KioskBold"
ITALIC = "KioskItalic"
DISPLAY, STAMP = "KioskDisplay", "KioskStamp"
"""The stencil, and its cut with broader bridges for sizes below 20 points."""
SMALL_PT = 20

FILES: dict[str, str] = {
    REGULAR: "AtkinsonHyperlegible-Regular.ttf",
    BOLD: "AtkinsonHyperlegible-Bold.ttf",
    ITALIC: "AtkinsonHyperlegible-Italic.ttf",
}
DISPLAY_FILES: dict[str, str] = {DISPLAY: "KioskStencil.ttf", STAMP: "KioskStencilSmall.ttf"}
FOLDER = Path(__file__).resolve().parent / "fonts"

NO_GLYPH = "?"
REPLACED = str.maketrans({"\u202f": "\u00a0", "\u2009": "\u00a0", "\u2011": "-", "→": ">", "\u200b": None})

_lock = threading.Lock()


def register() -> None:
    """Register the faces with reportlab; calling it again does nothing."""
    with _lock:
        if REGULAR in pdfmetrics.getRegisteredFontNames():
            return
        for name, file in reversed(
            [*FILES.items(), *DISPLAY_FILES.items()]
        ):  # the regular face last: it says that all are there
            pdfmetrics.registerFont(TTFont(name, FOLDER / file))
        pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=ITALIC, boldItalic=BOLD)


@cache
def glyphs() -> frozenset[str]:
    """Return every character that all faces can print."""
    faces = [TTFont(name, FOLDER / file).face.charToGlyph for name, file in FILES.items()]
    return frozenset(chr(c) for c in set(faces[0]).intersection(*faces[1:]))


@cache
def _display_glyphs() -> frozenset[str]:
    """Return every character of the stencil."""
    return frozenset(map(chr, TTFont(DISPLAY, FOLDER / DISPLAY_FILES[DISPLAY]).face.charToGlyph))


def heading(value: str, size: float) -> tuple[str, str]:
    """Return a heading in capitals and the stencil for its size, or as it is and the bold text face.

    The text face stands in where the stencil lacks a character of it.
    """
    capitals = printable(value).upper()
    if not set(capitals) <= _display_glyphs():
        return value, BOLD
    return capitals, DISPLAY if size >= SMALL_PT else STAMP


def printable(value: str) -> str:
    """Return a text with only characters that the faces can print.

    Composed letters and similar characters are used where there are any; every
    other character becomes a question mark, never an empty box.
    """
    plain = unicodedata.normalize("NFC", value).translate(REPLACED)
    spaced = "".join(" " if c.isspace() and c != "\u00a0" else c for c in plain)
    visible = "".join(c for c in spaced if unicodedata.category(c) != "Cc")
    return "".join(c if c in glyphs() else NO_GLYPH for c in visible)


def text(value: object) -> str:
    """Return a value as text for a Paragraph, with all markup escaped.

    reportlab's Paragraph reads markup: a name with an image tag in it would embed
    a local file.
    """
    return escape(printable(str(value)), quote=True)
