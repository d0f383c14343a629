"""Sheets of paper: their sizes, the canvas of a document, text set by its upper edge, and QR codes.

A QR code is drawn or written as SVG with one rectangle for each run of dark modules in
a row: module by module it prints with hairlines that one decoder in two fails on.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from html import escape
from itertools import groupby
from typing import BinaryIO

import qrcode
from qrcode.constants import ERROR_CORRECT_M
from reportlab.lib.colors import HexColor, black, white
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from kiosk.drawings.inks import INKS, on_paper
from kiosk.paper import fonts
from kiosk.paper.fonts import text

QUIET = 4  # modules on all sides (ISO/IEC 18004)

Matrix = tuple[tuple[bool, ...], ...]


@dataclass(frozen=True, slots=True)
class Run:
    """A run of dark modules: its row from the top and first column from the left, both from 0."""

    row: int
    column: int
    length: int


def matrix(content: str) -> Matrix:
    """Return the modules of the smallest code for `content` at correction level M, without quiet zone."""
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(content)
    code.make(fit=True)
    return tuple(tuple(bool(module) for module in row) for row in code.get_matrix())


def runs(modules: Matrix) -> Iterator[Run]:
    """Yield the dark runs of a matrix, row by row."""
    for row, line in enumerate(modules):
        column = 0
        for dark, group in groupby(line):
            length = len(list(group))
            if dark:
                yield Run(row, column, length)
            column += length


def draw(canvas: Canvas, content: str, x: float, y: float, side: float) -> None:
    """Draw a code with its white quiet zone in the square of `side` points whose lower left is (x, y)."""
    modules = matrix(content)
    module = side / (len(modules) + 2 * QUIET)
    canvas.saveState()
    canvas.setFillColor(white)
    canvas.rect(x, y, side, side, stroke=0, fill=1)
    canvas.setFillColor(black)
    path = canvas.beginPath()
    for run in runs(modules):
        top = y + side - (run.row + QUIET) * module
        path.rect(x + (run.column + QUIET) * module, top - module, run.length * module, module)
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.restoreState()


def svg(content: str, title: str, description: str, name: str) -> str:
    """Return a code as SVG for a page. `name` makes its ids unique there.

    Colours are classes (`code-ground`, `code-ink`) of the page's own style sheet.
    """
    modules = matrix(content)
    side = len(modules) + 2 * QUIET
    path = "".join(f"M{r.column + QUIET} {r.row + QUIET}h{r.length}v1h-{r.length}z" for r in runs(modules))
    ident = escape(name, quote=True)
    return (
        f'<svg class="code" viewBox="0 0 {side} {side}" role="img" shape-rendering="crispEdges" '
        f'aria-labelledby="{ident}-title {ident}-desc">'
        f'<title id="{ident}-title">{escape(title)}</title>'
        f'<desc id="{ident}-desc">{escape(description)}</desc>'
        f'<rect class="code-ground" width="{side}" height="{side}"/><path class="code-ink" d="{path}"/></svg>'
    )


class Paper(StrEnum):
    """The sizes of paper."""

    A4 = "a4"
    LETTER = "letter"


SIZES: Mapping[Paper, tuple[float, float]] = {Paper.A4: A4, Paper.LETTER: LETTER}
"""Width and height in points (ISO 216; 8.5 x 11 inches)."""

MM = mm
_INK = on_paper(INKS)["ink"]


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
    colour: str = _INK,
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


def _set(words: object, look: ParagraphStyle) -> tuple[str, ParagraphStyle]:
    """Return a text and its look as printed: a heading in the stencil or, where that cannot, in bold."""
    if look.fontName not in fonts.DISPLAY_FILES:
        return str(words), look
    heading, face = fonts.heading(str(words), look.fontSize)
    return heading, ParagraphStyle(look.name, parent=look, fontName=face)


def _paragraph(words: object, look: ParagraphStyle, width: float) -> tuple[Paragraph, float]:
    plain, look = _set(words, look)
    paragraph = Paragraph(text(plain), look)
    return paragraph, float(paragraph.wrap(width, 10_000)[1])


@dataclass(frozen=True, slots=True)
class Block:
    """A text set at a width: its height, and a function that draws it at a left and an upper edge."""

    high: float
    draw: Callable[[Canvas, float, float], object]


def block(words: object, look: ParagraphStyle, width: float) -> Block:
    """Return a text set at a width, without a Paragraph (ten times as slow) where it fits on a line."""
    words, look = _set(words, look)
    plain = fonts.printable(words)
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
