"""The plate of a stop on paper: the drawing, its letters in words, its instrument at the live figure.

It hangs beside the stop's sign, or is handed to those who learn the stop. Paper keeps its figure
while the house goes on, so each figure stands with the time that it is of, and the sheet with
the time at which it was made.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from kiosk.drawings.inks import on_paper
from kiosk.paper import fonts, sheet, vectors
from kiosk.paper.sheet import MM, Paper
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import Site
from kiosk.stops.instruments import Explanation, GroupsOnWalk, explain
from kiosk.words.catalogs import N_, Words
from kiosk.words.figures import STATE_WORDS
from kiosk.words.formats import day, time

MARGIN, GAP = 14 * MM, 8 * MM
TEXT_SIZES = (11.0, 10.0, 9.0, 8.0)
LEAST_PLATE = 78 * MM
"""A plate lower than this is hard to read from half a metre: the words become smaller first."""
DIAL = 66 * MM
NAME_SIZES = (30, 26, 22, 18, 14)
FOOT = 20 * MM

MADE = N_("Made on {date}, {time}: each figure is of the time beside it.")


@dataclass(frozen=True, slots=True)
class Column:
    """The words of a sheet in one language."""

    words: Words
    name: str  # of the stop
    plate: Explanation


@dataclass(frozen=True, slots=True)
class _Look:
    """The colours of a print: of the drawings, the band above, and text."""

    drawing: vectors.Inks
    band: str
    band_text: str
    second: str
    text: str


@dataclass(slots=True)
class _Sheet:
    """A sheet being drawn; `top` is where the next part begins, in points from its foot."""

    canvas: Canvas
    width: float
    top: float
    look: _Look
    columns: Sequence[Column]

    @property
    def inner(self) -> float:
        return self.width - 2 * MARGIN

    def side_by_side(self, left: float, width: float, draw: "_Draw", size: float) -> float:
        """Call `draw` for each language in its column below `top`, and return the lowest edge."""
        share = (width - GAP * (len(self.columns) - 1)) / len(self.columns)
        places = [left + i * (share + GAP) for i in range(len(self.columns))]
        return min(draw(self, column, x, share, size) for x, column in zip(places, self.columns, strict=True))


_Draw = Callable[[_Sheet, Column, float, float, float], float]
"""Draws a column's part at a left edge, a width and a size of text, and returns its lower edge."""


def plate_sheet(
    site: Site,
    content: Content,
    slug: str,
    readers: Sequence[PageReader],
    groups_on_walk: GroupsOnWalk,
    now: datetime,
    paper: Paper,
    *,
    one_ink: bool = False,
) -> bytes | None:
    """Return the plate of a stop as a PDF of one page, in each reader's language; None where it has none."""
    stops = list(content.stops)
    columns = [
        Column(reader.words, content.stops[slug].names[reader.words.language], plate)
        for reader in readers
        if slug in content.stops and (plate := explain(slug, reader, len(stops), groups_on_walk))
    ]
    if not columns:
        return None
    return plate_pdf(site, stops.index(slug) + 1, columns, now, paper, one_ink=one_ink)


def plate_pdf(
    site: Site, number: int, columns: Sequence[Column], now: datetime, paper: Paper, *, one_ink: bool = False
) -> bytes:
    """Return the plate of the `number`th stop as a PDF of one page, with its words in each language."""
    out, name = BytesIO(), columns[0].name
    canvas = sheet.start(out, paper, f"{name} · {site.name}", site.name, columns[0].words.language)
    width, high = sheet.SIZES[paper]
    drawn = _Sheet(canvas, width, high, _IN_ONE_INK if one_ink else _in_colour(site), columns)
    _band(drawn, str(number))
    _foot(drawn, site, now)
    _body(drawn)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _in_colour(site: Site) -> _Look:
    ink = on_paper(site.colours.inks)
    return _Look(vectors.on_white(ink), ink["field"], ink["field-text"], ink["juice"], ink["ink"])


_IN_ONE_INK = _Look(vectors.one_ink(), "#000000", "#ffffff", "#ffffff", "#000000")


def _band(drawn: _Sheet, number: str) -> None:
    """Draw the number of the stop and its name in each language on the band above."""
    names, left = [column.name for column in drawn.columns], MARGIN + 22 * MM
    width = drawn.width - MARGIN - left
    for size in NAME_SIZES:
        looks = [
            sheet.style(size * (0.62 if i else 1), font=fonts.DISPLAY, colour=colour, lead=1.1)
            for i, colour in enumerate((drawn.look.band_text, drawn.look.second)[: len(names)])
        ]
        used = sum(sheet.height(name, look, width) for name, look in zip(names, looks, strict=True))
        if used <= 24 * MM:
            break
    high = max(used, 14 * MM) + 8 * MM
    canvas, middle = drawn.canvas, drawn.top - high / 2
    canvas.setFillColor(HexColor(drawn.look.band))
    canvas.rect(0, drawn.top - high, drawn.width, high, stroke=0, fill=1)
    canvas.setFillColor(HexColor(drawn.look.second))
    canvas.circle(MARGIN + 8 * MM, middle, 8 * MM, stroke=0, fill=1)
    canvas.setFillColor(HexColor(drawn.look.band))
    canvas.setFont(fonts.DISPLAY, 28 if len(number) == 1 else 22)
    canvas.drawCentredString(MARGIN + 8 * MM, middle - (10 if len(number) == 1 else 8), number)
    low = middle + used / 2
    for name, look in zip(names, looks, strict=True):
        low = sheet.write(canvas, name, look, left, low, width)
    drawn.top -= high + 5 * MM


def _foot(drawn: _Sheet, site: Site, now: datetime) -> None:
    look = sheet.style(8, colour=drawn.look.text)
    local = now.astimezone(site.zone)
    made = [
        column.words.gettext(
            MADE, date=day(local.date(), column.words), time=time(now, site.zone, column.words)
        )
        for column in drawn.columns
    ]
    low = FOOT
    for line in (site.name, *made):
        low = sheet.write(drawn.canvas, line, look, MARGIN, low, drawn.inner)


def _body(drawn: _Sheet) -> None:
    """Draw the plate as large as the words below it leave room, then letters and instrument."""
    floor = FOOT + 5 * MM
    plate = drawn.columns[0].plate
    shape = vectors.PrintedDrawing(plate.drawing, 1.0, drawn.look.drawing).height
    for size in TEXT_SIZES:
        words = sum(_measured(drawn, part, size) for part in (_title, _letters)) + 8 * MM
        room = drawn.top - floor - words - _instrument_high(drawn, size)
        if room >= min(LEAST_PLATE, drawn.inner * shape):
            break
    drawn.top = drawn.side_by_side(MARGIN, drawn.inner, _title, size) - 2 * MM
    width = min(drawn.inner, room / shape)
    drawing = vectors.PrintedDrawing(plate.drawing, width, drawn.look.drawing)
    drawing.drawOn(drawn.canvas, (drawn.width - width) / 2, drawn.top - drawing.height)
    drawn.top -= drawing.height + 4 * MM
    drawn.top = drawn.side_by_side(MARGIN, drawn.inner, _letters, size)
    _instrument(drawn, floor + _instrument_high(drawn, size), size)


def _measured(drawn: _Sheet, part: _Draw, size: float) -> float:
    """Return the height that a part takes, drawn on a canvas that is thrown away."""
    trial = _Sheet(Canvas(BytesIO()), drawn.width, drawn.top, drawn.look, drawn.columns)
    return drawn.top - trial.side_by_side(MARGIN, drawn.inner, part, size)


def _title(drawn: _Sheet, column: Column, left: float, width: float, size: float) -> float:
    look = sheet.style(size * 1.5, font=fonts.STAMP, colour=drawn.look.text, lead=1.1)
    return sheet.write(drawn.canvas, column.plate.title, look, left, drawn.top, width)


def _letters(drawn: _Sheet, column: Column, left: float, width: float, size: float) -> float:
    """Write each letter of the plate on its disc, with the name and the use of its part."""
    canvas, low, side = drawn.canvas, drawn.top, size * 1.5
    look = sheet.style(size, colour=drawn.look.text, lead=1.2)
    for part in column.plate.parts:
        used = sheet.height(part.name, look, width - side - 2 * MM)
        canvas.setFillColor(HexColor(drawn.look.band))
        canvas.circle(left + side / 2, low - side / 2, side / 2, stroke=0, fill=1)
        canvas.setFillColor(HexColor(drawn.look.band_text))
        canvas.setFont(fonts.STAMP, size)
        canvas.drawCentredString(left + side / 2, low - side / 2 - size * 0.36, part.letter)
        edge = low - max(0, side - used) / 2
        sheet.write(canvas, part.name, look, left + side + 2 * MM, edge, width - side - 2 * MM)
        low -= max(used, side) + 1.5 * MM
    return low


def _dial_text(drawn: _Sheet, column: Column, left: float, width: float, size: float) -> float:
    """Write what the instrument shows: each figure as a sentence, with its state, its time and its basis."""
    canvas, words, plate = drawn.canvas, column.words, column.plate
    heading = sheet.style(size * 1.3, font=fonts.STAMP, colour=drawn.look.text, lead=1.1)
    strong = sheet.style(size, font=fonts.BOLD, colour=drawn.look.text, lead=1.2)
    small = sheet.style(size * 0.9, colour=drawn.look.text, lead=1.2)
    low = sheet.write(canvas, plate.heading, heading, left, drawn.top, width) - 1.5 * MM
    for stated in plate.figures:
        text = stated.text
        low = sheet.write(canvas, text.sentence, strong, left, low, width)
        known = (words.gettext(STATE_WORDS[text.state]), text.as_of, text.basis)
        low = sheet.write(canvas, " · ".join(filter(None, known)), small, left, low, width) - 1.5 * MM
    return sheet.write(canvas, plate.note, strong, left, low, width) if plate.note else low


def _instrument_high(drawn: _Sheet, size: float) -> float:
    trial = _Sheet(Canvas(BytesIO()), drawn.width, drawn.top, drawn.look, drawn.columns)
    left = MARGIN + DIAL + 6 * MM
    words = drawn.top - trial.side_by_side(left, drawn.width - MARGIN - left, _dial_text, size)
    dial = vectors.PrintedDrawing(drawn.columns[0].plate.instrument, DIAL, drawn.look.drawing).height
    return max(words, dial) + 4 * MM


def _instrument(drawn: _Sheet, top: float, size: float) -> None:
    canvas, plate = drawn.canvas, drawn.columns[0].plate
    canvas.setStrokeColor(HexColor(drawn.look.text))
    canvas.setLineWidth(1.5)
    canvas.line(MARGIN, top, drawn.width - MARGIN, top)
    drawn.top = top - 4 * MM
    dial = vectors.PrintedDrawing(plate.instrument, DIAL, drawn.look.drawing)
    dial.drawOn(canvas, MARGIN, drawn.top - dial.height)
    left = MARGIN + DIAL + 6 * MM
    drawn.side_by_side(left, drawn.width - MARGIN - left, _dial_text, size)
