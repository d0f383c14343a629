"""Sheets of paper: their sizes, the canvas of a document, and text set by its upper edge."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import BinaryIO

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from kiosk.paper import fonts
from kiosk.paper.fonts import text


class Paper(StrEnum):
    """The sizes of paper."""

    A4 = "a4"
    LETTER = "letter"


SIZES: Mapping[Paper, tuple[float, float]] = {Paper.A4: A4, Paper.LETTER: LETTER}
"""Width and height in points (ISO 216; 8.5 x 11 inches)."""

MM = mm


def start(out: BinaryIO, paper: Paper, title: str, author: str, language: str) -> Canvas:
    """Return the canvas of a document: it embeds all fonts and writes the same bytes each time."""
    fonts.register()
    canvas = Canvas(
        out,
        pagesize=SIZES[paper],
        invariant=1,
        initialFontName=fonts.REGULAR,  # type: ignore[arg-type]  # the stubs take it for a size
        initialFontSize=10,
        lang=language,
    )
    canvas.setTitle(fonts.printable(title))
    canvas.setAuthor(fonts.printable(author))
    canvas.setCreator("Kiosk")
    return canvas


def style(
    size: float,
    *,
    font: str = fonts.REGULAR,
    colour: str = "#2a211a",
    centre: bool = False,
    lead: float = 1.25,
) -> ParagraphStyle:
    """Return a style by its size in points; `lead` is the line spacing as a multiple of it."""
    return ParagraphStyle(
        f"{font}-{size}",
        fontName=font,
        fontSize=size,
        leading=size * lead,
        textColor=HexColor(colour),
        alignment=TA_CENTER if centre else TA_LEFT,
        splitLongWords=True,
    )


def height(words: object, look: ParagraphStyle, width: float) -> float:
    """Return the height of a text set at a width, in points."""
    return _paragraph(words, look, width)[1]


def _paragraph(words: object, look: ParagraphStyle, width: float) -> tuple[Paragraph, float]:
    paragraph = Paragraph(text(words), look)
    return paragraph, float(paragraph.wrap(width, 10_000)[1])


@dataclass(frozen=True, slots=True)
class Block:
    """A text set at a width: its height, and a function that draws it at a left and an upper edge."""

    high: float
    draw: Callable[[Canvas, float, float], object]


def block(words: object, look: ParagraphStyle, width: float) -> Block:
    """Return a text set at a width, without a Paragraph (ten times as slow) where it fits on a line."""
    plain = fonts.printable(str(words))
    free = width - stringWidth(plain, look.fontName, look.fontSize)
    if free >= 0 and look.alignment in (TA_LEFT, TA_RIGHT):
        return Block(look.leading, partial(_line, plain, look, free if look.alignment == TA_RIGHT else 0.0))
    paragraph, high = _paragraph(words, look, width)
    return Block(high, lambda canvas, x, top: paragraph.drawOn(canvas, x, top - high))


def _line(plain: str, look: ParagraphStyle, indent: float, canvas: Canvas, x: float, top: float) -> None:
    canvas.setFont(look.fontName, look.fontSize)
    canvas.setFillColor(look.textColor)
    canvas.drawString(x + indent, top - look.fontSize, plain)


def write(canvas: Canvas, words: object, look: ParagraphStyle, x: float, top: float, width: float) -> float:
    """Draw a text with its upper edge at `top` and return its lower edge."""
    paragraph, used = _paragraph(words, look, width)
    paragraph.drawOn(canvas, x, top - used)
    return top - used
