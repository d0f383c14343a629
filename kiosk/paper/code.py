"""QR codes: their matrix, drawn on paper or written as SVG.

Each run of dark modules in a row is one rectangle: module by module a code prints
with hairlines that one decoder in two fails on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby

import qrcode
from qrcode.constants import ERROR_CORRECT_M
from reportlab.lib.colors import black, white
from reportlab.pdfgen.canvas import Canvas

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
