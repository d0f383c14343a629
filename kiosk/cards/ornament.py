"""The few drawn things on a card: the cane of the house, its ruled line, a phone put away."""

from __future__ import annotations

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

INK = "#2a211a"
QUIET_INK = "#5f5243"
LINE = "#ddd0ba"
COPPER = "#98491a"
LEAF = "#24512f"
PALE = "#fbf7f0"


def cane(canvas: Canvas, x: float, y: float, height: float) -> None:
    """Draw one node of cane with its leaf, its lower left corner at (x, y)."""
    canvas.saveState()
    canvas.translate(x, y + height)
    canvas.scale(height / 32, -height / 32)
    canvas.setFillColor(HexColor(COPPER))
    canvas.rect(9, 21.5, 6, 9.5, stroke=0, fill=1)
    canvas.rect(9.4, 10, 5.2, 9.5, stroke=0, fill=1)
    canvas.setFillColor(HexColor(INK))
    canvas.rect(7.6, 19.2, 8.8, 2.6, stroke=0, fill=1)
    canvas.rect(8, 7.6, 8, 2.6, stroke=0, fill=1)
    canvas.setFillColor(HexColor(LEAF))
    leaf = canvas.beginPath()
    leaf.moveTo(15, 8)
    leaf.curveTo(15.6, 3.6, 18.6, 1, 23, 0.8)
    leaf.curveTo(20.9, 2.6, 20, 4.2, 19.4, 6)
    leaf.curveTo(18.7, 8, 17.4, 9.2, 15, 9.4)
    leaf.close()
    leaf.moveTo(9, 20)
    leaf.curveTo(4.6, 19.2, 1.8, 16.2, 1, 11.4)
    leaf.curveTo(3, 13.4, 4.6, 14.2, 6, 15)
    leaf.curveTo(8, 16.1, 9, 17.4, 9, 20)
    leaf.close()
    canvas.drawPath(leaf, stroke=0, fill=1)
    canvas.restoreState()


def stalk(canvas: Canvas, x: float, y: float, width: float, colour: str) -> None:
    """Draw a fine line with nodes along it, like a stalk lying down."""
    canvas.saveState()
    canvas.setStrokeColor(HexColor(LINE))
    canvas.setLineWidth(1)
    canvas.line(x, y, x + width, y)
    canvas.setFillColor(HexColor(colour))
    nodes = max(2, round(width / 60))
    for node in range(nodes + 1):
        canvas.roundRect(x + node * width / nodes - 1.5, y - 3.5, 3, 7, 1, stroke=0, fill=1)
    canvas.restoreState()


def node(canvas: Canvas, x: float, y: float, colour: str) -> None:
    """Draw the mark before a line of a list, centred at (x, y)."""
    canvas.saveState()
    canvas.setFillColor(HexColor(colour))
    canvas.roundRect(x - 1.6, y - 4, 3.2, 8, 1.2, stroke=0, fill=1)
    canvas.restoreState()


def phone(canvas: Canvas, x: float, y: float, height: float, away: bool) -> None:
    """Draw a phone in outline on a dark band; struck through when it is to be put away."""
    canvas.saveState()
    canvas.setStrokeColor(HexColor(PALE))
    canvas.setFillColor(HexColor(PALE))
    canvas.setLineCap(1)
    width = height * 0.56
    canvas.setLineWidth(height / 14)
    canvas.roundRect(x, y, width, height, height / 9, stroke=1, fill=0)
    canvas.circle(x + width / 2, y + height * 0.14, height / 22, stroke=0, fill=1)
    if away:
        canvas.setLineWidth(height / 9)
        canvas.line(x - height * 0.16, y + height * 0.02, x + width + height * 0.16, y + height * 0.98)
    canvas.restoreState()
