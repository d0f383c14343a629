"""The sign of one stop as a PDF: its number, its name, its needs, and the code that opens its page.

The code is as large as the sheet allows, to be read from one to two metres (a
code's width of about a tenth of the distance, a rule of thumb from memory). It
carries no language: the page is shown in the visitor's own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO

from reportlab.lib.colors import HexColor, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from kiosk.cards.listing import stop_address
from kiosk.drawings.frieze import frieze
from kiosk.drawings.icons import icon
from kiosk.drawings.inks import on_paper
from kiosk.drawings.parts import neutral_mark
from kiosk.paper import fonts, sheet, vectors
from kiosk.paper.sheet import MM, Paper
from kiosk.site.content.stops import Stop
from kiosk.site.content.symbols import Symbol, symbols
from kiosk.site.images import Image
from kiosk.site.settings import Site
from kiosk.words.catalogs import N_, Words

MARGIN = 12 * MM
LARGEST_CODE = 116 * MM
SCENES = {Paper.A4: (-430.0, 700.0), Paper.LETTER: (-590.0, 860.0)}
"""The part of the walk that stands on the sign, in units of its drawing: the stop is at the right."""
NAME_SIZES = (54, 48, 42, 38, 34, 30, 27, 24, 20, 17, 14)
NAME_HIGH = 31 * MM
SECOND_NAME = 0.6
"""The size of the name in the second language as a share of the first one's."""
NEED_SIZES = (13.0, 12.0, 11.0, 10.0, 9.0, 8.0)

READ_HERE = N_("Read this here, then put phones away")
READ_ON = N_("Read this stop on your phone")
AGE_LINE = N_("Spirits are tasted here only by guests of {age} and over. If you drive, do not drink.")


@dataclass(frozen=True, slots=True)
class Print:
    """The colours of a sign: of the band with its scene, of the bands of name and rule, of the text."""

    scene: vectors.Inks
    sky: str
    key: str
    name: str
    second_name: str
    rule: str
    rule_text: str
    paper: str
    text: str
    mark_ground: str


def in_colour(site: Site) -> Print:
    """Return the colours of the house."""
    ink = on_paper(site.colours.inks)
    return Print(
        vectors.on_juice(ink),
        sky=ink["juice"],
        key=ink["on-juice"],
        name=ink["field-text"],
        second_name=ink["juice"],
        rule=ink["bar"],
        rule_text=ink["bar-text"],
        paper="#ffffff",
        text=ink["ink"],
        mark_ground=ink["juice-light"],
    )


IN_ONE_INK = Print(
    vectors.one_ink(),
    sky="#ffffff",
    key="#000000",
    name="#ffffff",
    second_name="#ffffff",
    rule="#ffffff",
    rule_text="#000000",
    paper="#ffffff",
    text="#000000",
    mark_ground="#ffffff",
)
"""The colours of a sign for a printer with black only."""


@dataclass(frozen=True, slots=True)
class Column:
    """The text of the sign in one language."""

    name: str
    heading: str
    needs: tuple[Symbol, ...]
    legal: tuple[str, ...]  # the site's own lines, else the age line


@dataclass(slots=True)
class _Sign:
    """A sign being drawn: `top` is where the next part begins, in points from the foot of the sheet."""

    canvas: Canvas
    width: float
    top: float
    look: Print
    columns: Sequence[Column] = field(default_factory=tuple)

    @property
    def inner(self) -> float:
        return self.width - 2 * MARGIN

    def fill(self, colour: str, high: float) -> None:
        """Lay a band across the sheet below `top`."""
        self.canvas.setFillColor(HexColor(colour))
        self.canvas.rect(0, self.top - high, self.width, high, stroke=0, fill=1)

    def draw(self, drawing: str, x: float, low: float, width: float, colours: vectors.Inks) -> None:
        """Draw a drawing of the house with its lower left corner at (x, low)."""
        vectors.PrintedDrawing(drawing, width, colours).drawOn(self.canvas, x, low)


def stop_sign_pdf(
    site: Site, stop: Stop, number: int, languages: Sequence[Words], paper: Paper, *, one_ink: bool = False
) -> bytes:
    """Return the sign of the `number`th stop as a PDF of one page, in one language or two.

    Raises NoPublicAddress where a guest's phone could not open the code.
    """
    address = stop_address(site, stop.slug)
    columns = [_column(site, stop, words) for words in languages]
    out = BytesIO()
    title = f"{columns[0].name} · {site.name}"
    canvas = sheet.start(out, paper, title, site.name, languages[0].language)
    width, high = sheet.SIZES[paper]
    sign = _Sign(canvas, width, high, IN_ONE_INK if one_ink else in_colour(site), columns)
    _scene(sign, SCENES[paper], site, stop.slug, str(number))
    _names(sign)
    _rule(sign, away=stop.at_the_door)
    foot = _legal(sign) + 3 * MM
    side = _code(sign, address, foot)
    _needs(sign, sign.inner - side - 4 * MM, foot)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _column(site: Site, stop: Stop, words: Words) -> Column:
    # What the rule says of phones is not said again among the needs.
    known = tuple(symbol for symbol in symbols(stop, words) if not symbol.shape.startswith("phone"))
    heading = words.gettext(READ_HERE if stop.at_the_door else READ_ON)
    legal = site.label_lines.get(words.language) or (words.gettext(AGE_LINE, age=site.policy.guest_age),)
    return Column(stop.names[words.language], heading, known, legal)


def _scene(sign: _Sign, window: tuple[float, float], site: Site, slug: str, number: str) -> None:
    """Draw the stop on its ground line, its number on a disc, and the house's mark and name above."""
    drawing = vectors.PrintedDrawing(frieze([slug], window=window), sign.width, sign.look.scene)
    sign.fill(sign.look.sky, drawing.height)
    low = sign.top - drawing.height
    drawing.drawOn(sign.canvas, 0, low)
    _house(sign, site)
    _disc(sign, number, MARGIN + 22 * MM, low + drawing.height * 0.4)
    sign.top = low


def _house(sign: _Sign, site: Site) -> None:
    look = sheet.style(24, font=fonts.DISPLAY, colour=sign.look.text, lead=1.05)
    high, top = 13 * MM, sign.top - 8 * MM
    mark = _mark(sign, site.images.mark, top, high)
    left = MARGIN + mark + 4 * MM
    width = sign.width - MARGIN - left
    used = sheet.height(site.name, look, width)
    sheet.write(sign.canvas, site.name, look, left, top - max(0, (high - used) / 2), width)


def _mark(sign: _Sign, own: Image | None, top: float, high: float) -> float:
    """Draw the house's own mark, or the neutral one, below `top` and return the width that it takes."""
    if own is None:
        sign.draw(neutral_mark(), MARGIN, top - high * 0.95, high, sign.look.scene)
        return high
    width = min(high * own.width / own.height, 3 * high)
    edge = 1 * MM
    ground = sign.look.text if own.light else sign.look.mark_ground
    sign.canvas.setFillColor(HexColor(ground))
    sign.canvas.roundRect(MARGIN, top - high, width, high, 1.5 * MM, stroke=0, fill=1)
    place = (MARGIN + edge, top - high + edge, width - 2 * edge, high - 2 * edge)
    image = own.picture(grey=sign.look is IN_ONE_INK)
    sign.canvas.drawImage(ImageReader(image), *place, mask="auto", preserveAspectRatio=True, anchor="c")
    return width


def _disc(sign: _Sign, number: str, x: float, y: float) -> None:
    """Draw the number on the plain disc of a stop, centred at (x, y)."""
    canvas, radius = sign.canvas, 22 * MM
    for share, colour in ((1.0, sign.look.key), (0.94, sign.look.sky), (0.86, sign.look.key)):
        canvas.setFillColor(HexColor(colour))
        canvas.circle(x, y, radius * share, stroke=0, fill=1)
    size = radius * (1.3 if len(number) == 1 else 1.0)
    canvas.setFillColor(HexColor(sign.look.second_name))
    canvas.setFont(fonts.DISPLAY, size)
    canvas.drawCentredString(x, y - size * 0.36, number)


def _names(sign: _Sign) -> None:
    lines = _name_lines([column.name for column in sign.columns], sign.inner, sign.look)
    high = sum(sheet.height(words, look, sign.inner) for words, look in lines) + 9 * MM
    sign.fill(sign.look.key, high)
    low = sign.top - 4.5 * MM
    for words, look in lines:
        low = sheet.write(sign.canvas, words, look, MARGIN, low, sign.inner)
    sign.top -= high


def _name_lines(names: Sequence[str], width: float, look: Print) -> list[tuple[str, ParagraphStyle]]:
    """Choose the largest size at which each name stands on one line, else within the room for names."""
    for size in NAME_SIZES:
        lines = [
            (name, _name_look(size * (SECOND_NAME if at else 1), look.second_name if at else look.name))
            for at, name in enumerate(names)
        ]
        highs = [sheet.height(words, style, width) for words, style in lines]
        one_line = all(high < 2 * style.fontSize for high, (_, style) in zip(highs, lines, strict=True))
        if sum(highs) <= NAME_HIGH and (one_line or size <= 24):
            break
    return lines


def _name_look(size: float, colour: str) -> ParagraphStyle:
    return sheet.style(size, font=fonts.DISPLAY, colour=colour, lead=1.1)


def _rule(sign: _Sign, *, away: bool) -> None:
    """Draw the rule of phones in each language, on its own band."""
    looks = [sheet.style(17, font=fonts.BOLD, colour=sign.look.rule_text, lead=1.2)]
    looks += [sheet.style(15, colour=sign.look.rule_text, lead=1.2)] * (len(sign.columns) - 1)
    left, width = MARGIN + 19 * MM, sign.inner - 19 * MM
    used = sum(sheet.height(one.heading, look, width) for one, look in zip(sign.columns, looks, strict=True))
    high = max(used, 14 * MM) + 4 * MM
    sign.fill(sign.look.rule, high)
    colours = vectors.icon_inks(sign.look.rule_text, sign.look.rule)
    sign.draw(icon("phone-away" if away else "phone"), MARGIN, sign.top - high / 2 - 7 * MM, 14 * MM, colours)
    low = sign.top - (high - used) / 2
    for one, look in zip(sign.columns, looks, strict=True):
        low = sheet.write(sign.canvas, one.heading, look, left, low, width)
    sign.top -= high
    sign.canvas.setStrokeColor(HexColor(sign.look.rule_text))
    sign.canvas.setLineWidth(1.5)
    sign.canvas.line(0, sign.top, sign.width, sign.top)


def _needs(sign: _Sign, width: float, foot: float) -> None:
    """Draw what the stop asks of guests, each need an icon beside its words, over the free height."""
    room = sign.top - 6 * MM - foot
    needs = list(zip(*(column.needs for column in sign.columns), strict=True))
    for size in NEED_SIZES:
        looks = [sheet.style(size, font=fonts.BOLD, colour=sign.look.text, lead=1.15)]
        looks += [sheet.style(size, colour=sign.look.text, lead=1.15)] * (len(sign.columns) - 1)
        highs = [_need_high(need, looks, width - 14 * MM) for need in needs]
        if sum(highs) + len(needs) * 2 * MM <= room:
            break
    gap = min(7 * MM, (room - sum(highs)) / max(1, len(needs)))
    low = sign.top - 7 * MM
    colours = vectors.icon_inks(sign.look.key, sign.look.paper)
    for need, high in zip(needs, highs, strict=True):
        sign.draw(icon(need[0].shape), MARGIN, low - high / 2 - 5 * MM, 10 * MM, colours)
        at = low
        for symbol, look in zip(need, looks, strict=True):
            at = sheet.write(sign.canvas, symbol.text, look, MARGIN + 14 * MM, at, width - 14 * MM)
        low -= high + gap


def _need_high(need: Sequence[Symbol], looks: Sequence[ParagraphStyle], width: float) -> float:
    return sum(sheet.height(symbol.text, look, width) for symbol, look in zip(need, looks, strict=True))


def _legal(sign: _Sign) -> float:
    """Write the lines of the law at the foot, a column for each language, and return their upper edge."""
    look = sheet.style(9, colour=sign.look.text)
    width = (sign.inner - (len(sign.columns) - 1) * 8 * MM) / len(sign.columns)
    top = 9 * MM + max(
        sum(sheet.height(line, look, width) for line in column.legal) for column in sign.columns
    )
    for at, column in enumerate(sign.columns):
        low = top
        for line in column.legal:
            low = sheet.write(sign.canvas, line, look, MARGIN + at * (width + 8 * MM), low, width)
    sign.canvas.setStrokeColor(HexColor(sign.look.key))
    sign.canvas.line(MARGIN, top + 2 * MM, sign.width - MARGIN, top + 2 * MM)
    return top


def _code(sign: _Sign, address: str, foot: float) -> float:
    """Draw the code at the right with its address below, and return the width that they take."""
    letters = sheet.style(11, font=fonts.BOLD, colour=sign.look.text, centre=True)
    room = sign.top - 4 * MM - foot
    side = min(LARGEST_CODE, room)
    side = min(side, room - sheet.height(address, letters, side))
    left, low = sign.width - MARGIN - side, sign.top - 4 * MM - side
    sign.canvas.setFillColor(white)
    sheet.draw(sign.canvas, address, left, low, side)
    sheet.write(sign.canvas, address, letters, left, low, side)
    return side
