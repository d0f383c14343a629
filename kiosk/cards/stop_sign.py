"""The sign of one stop as a PDF: its name, what to know before it, and the code that opens its page.

The code is as large as the sheet allows, to be read from one to two metres (a
code's width of about a tenth of the distance, a rule of thumb from memory). It
carries no language: the page is shown in the visitor's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.colors import HexColor, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas

from kiosk.cards.listing import stop_address
from kiosk.paper import fonts, sheet
from kiosk.paper.sheet import MM, Paper
from kiosk.site.content.stops import Stop
from kiosk.site.content.symbols import symbols
from kiosk.site.settings import Site
from kiosk.words.catalogs import N_, Words

INK = "#2a211a"
QUIET_INK = "#5f5243"
LINE = "#ddd0ba"
COPPER = "#98491a"
LEAF = "#24512f"
PALE = "#fbf7f0"


def draw_cane(canvas: Canvas, x: float, y: float, height: float) -> None:
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


def draw_stalk(canvas: Canvas, x: float, y: float, width: float, colour: str) -> None:
    """Draw a fine line with nodes along it, like a stalk lying down."""
    canvas.saveState()
    canvas.setStrokeColor(HexColor(LINE))
    canvas.setLineWidth(1)
    canvas.line(x, y, x + width, y)
    canvas.setFillColor(HexColor(colour))
    nodes = max(2, round(width / 60))
    for draw_node in range(nodes + 1):
        canvas.roundRect(x + draw_node * width / nodes - 1.5, y - 3.5, 3, 7, 1, stroke=0, fill=1)
    canvas.restoreState()


def draw_node(canvas: Canvas, x: float, y: float, colour: str) -> None:
    """Draw the mark before a line of a list, centred at (x, y)."""
    canvas.saveState()
    canvas.setFillColor(HexColor(colour))
    canvas.roundRect(x - 1.6, y - 4, 3.2, 8, 1.2, stroke=0, fill=1)
    canvas.restoreState()


def draw_phone(canvas: Canvas, x: float, y: float, height: float, away: bool) -> None:
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


MARGIN = 17 * MM
GUTTER = 9 * MM
LARGEST_CODE = 140 * MM
NAME_SIZES = (34, 30, 27, 24, 20, 17, 14)
NAME_LEAD = 1.08
LEAST_ONE_LINE = 24
NAME_HIGH = 27 * MM

READ_HERE = N_("Read this here, then put phones away")
READ_ON = N_("Read this stop on your phone")
AGE_LINE = N_("Spirits are tasted here only by guests of {age} and over. If you drive, do not drink.")


@dataclass(frozen=True, slots=True)
class Column:
    """The text of the sign in one language."""

    name: str
    heading: str
    signs: tuple[str, ...]
    legal: tuple[str, ...]  # the site's own lines, else the age line


@dataclass(frozen=True, slots=True)
class Place:
    """The columns' left edges and their common width, in points."""

    lefts: tuple[float, ...]
    width: float


def stop_sign_pdf(site: Site, stop: Stop, languages: Sequence[Words], paper: Paper) -> bytes:
    """Return a stop's sign as a PDF of one page, in one language or two side by side.

    Raises NoPublicAddress where a guest's phone could not open the code.
    """
    address = stop_address(site, stop.slug)
    columns = [_column(site, stop, words) for words in languages]
    out = BytesIO()
    title = f"{columns[0].name} · {site.name}"
    canvas = sheet.start(out, paper, title, site.name, languages[0].language)
    width, high = sheet.SIZES[paper]
    place = _place(width, len(columns))
    accent = site.colours.accent
    top = _head(canvas, site.name, high, width, accent)
    top = _band(canvas, columns, place, top, accent, away=stop.at_the_door)
    top = _names(canvas, columns, place, top - 6 * MM, accent)
    top = _signs(canvas, columns, place, top - 4 * MM)
    bottom = _legal(canvas, columns, place)
    draw_stalk(canvas, MARGIN, bottom + 4 * MM, width - 2 * MARGIN, accent)
    _code(canvas, address, width, top - 5 * MM, bottom + 10 * MM, accent)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _column(site: Site, stop: Stop, words: Words) -> Column:
    # What the heading says of phones is not said again among the signs.
    known = tuple(symbol.text for symbol in symbols(stop, words) if not symbol.shape.startswith("phone"))
    heading = words.gettext(READ_HERE if stop.at_the_door else READ_ON)
    legal = site.label_lines.get(words.language) or (words.gettext(AGE_LINE, age=site.policy.guest_age),)
    return Column(stop.names[words.language], heading, known, legal)


def _place(page_width: float, count: int) -> Place:
    width = (page_width - 2 * MARGIN - (count - 1) * GUTTER) / count
    return Place(tuple(MARGIN + n * (width + GUTTER) for n in range(count)), width)


def _head(canvas: Canvas, name: str, page_high: float, page_width: float, accent: str) -> float:
    top = page_high - 13 * MM
    draw_cane(canvas, MARGIN, top - 12 * MM, 12 * MM)
    look = sheet.style(17, font=fonts.BOLD, lead=1.1)
    width = page_width - 2 * MARGIN - 13 * MM
    used = sheet.height(name, look, width)
    low = sheet.write(canvas, name, look, MARGIN + 13 * MM, top - (12 * MM - used) / 2, width)
    line = min(low, top - 12 * MM) - 4 * MM
    draw_stalk(canvas, MARGIN, line, page_width - 2 * MARGIN, accent)
    return line - 5 * MM


def _band(
    canvas: Canvas, columns: Sequence[Column], place: Place, top: float, accent: str, *, away: bool
) -> float:
    look = sheet.style(15, font=fonts.BOLD, colour=PALE, lead=1.2)
    indent, pad = 15 * MM, 4 * MM
    width = place.width - indent - pad
    used = max(12 * MM, *(sheet.height(column.heading, look, width) for column in columns))
    high = used + 2 * pad
    for column, left in zip(columns, place.lefts, strict=True):
        canvas.setFillColor(HexColor(accent))
        canvas.roundRect(left, top - high, place.width, high, 3 * MM, stroke=0, fill=1)
        draw_phone(canvas, left + 5 * MM, top - high / 2 - 5 * MM, 10 * MM, away)
        room = (high - sheet.height(column.heading, look, width)) / 2
        sheet.write(canvas, column.heading, look, left + indent, top - room, width)
    return top - high


def _names(canvas: Canvas, columns: Sequence[Column], place: Place, top: float, accent: str) -> float:
    look = _name_look([column.name for column in columns], place.width, accent)
    lows = [
        sheet.write(canvas, column.name, look, left, top, place.width)
        for column, left in zip(columns, place.lefts, strict=True)
    ]
    return min(lows)


def _name_look(names: Sequence[str], width: float, accent: str) -> ParagraphStyle:
    """Choose the largest size at which each name stands on one line, else within the room for names."""
    looks = [sheet.style(size, font=fonts.BOLD, colour=accent, lead=NAME_LEAD) for size in NAME_SIZES]
    highs = [max(sheet.height(name, look, width) for name in names) for look in looks]
    for look, size, high in zip(looks, NAME_SIZES, highs, strict=True):
        if size >= LEAST_ONE_LINE and high < 2 * size:
            return look
    return next((look for look, high in zip(looks, highs, strict=True) if high <= NAME_HIGH), looks[-1])


def _signs(canvas: Canvas, columns: Sequence[Column], place: Place, top: float) -> float:
    look = sheet.style(13, lead=1.3)
    lows = []
    for column, left in zip(columns, place.lefts, strict=True):
        low = top
        for sign in column.signs:
            draw_node(canvas, left + 2, low - 8.5, COPPER)
            low = sheet.write(canvas, sign, look, left + 4 * MM, low, place.width - 4 * MM) - 2
        lows.append(low)
    return min(lows, default=top)


def _legal(canvas: Canvas, columns: Sequence[Column], place: Place) -> float:
    look = sheet.style(9.5, colour=QUIET_INK)
    highs = [sum(sheet.height(line, look, place.width) for line in column.legal) for column in columns]
    top = 11 * MM + max(highs)
    for column, left in zip(columns, place.lefts, strict=True):
        low = top
        for line in column.legal:
            low = sheet.write(canvas, line, look, left, low, place.width)
    return top


def _code(canvas: Canvas, address: str, page_width: float, top: float, bottom: float, accent: str) -> None:
    letters = sheet.style(15, font=fonts.BOLD, centre=True)
    width = page_width - 2 * MARGIN
    below = sheet.height(address, letters, width) + 4 * MM
    side = min(LARGEST_CODE, top - bottom - below)
    left, low = (page_width - side) / 2, top - side - max(0.0, (top - bottom - below - side) / 2)
    canvas.setStrokeColor(HexColor(accent))
    canvas.setFillColor(white)
    canvas.setLineWidth(2)
    canvas.roundRect(left, low, side, side, 4 * MM, stroke=1, fill=1)
    sheet.draw(canvas, address, left + 2 * MM, low + 2 * MM, side - 4 * MM)
    sheet.write(canvas, address, letters, MARGIN, low - 4 * MM, width)
