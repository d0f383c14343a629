"""Pages of running text, lines and drawings, each with a head and "page n of m" at its foot.

`pictures_pdf` prints pictures of records: the drawings of the screen, each with its words and its table.
"""

from collections.abc import Callable, Iterable, Sequence
from io import BytesIO

from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from kiosk.drawings.inks import INKS, on_paper
from kiosk.paper import fonts, sheet
from kiosk.paper.pictures import Picture
from kiosk.paper.sheet import MM, Paper

MARGIN = 18 * MM
_INKS = on_paper(INKS)
RULE = HexColor(_INKS["rule"])
FURNITURE = 7.5
"""Size of the head and foot of a page, in points."""

Cell = tuple[str, ParagraphStyle, float]
"""A text, its look, and its share of the width."""

Foot = Callable[[int, int], str]
"""Returns the foot of a page from its number and the number of pages."""


def right(look: ParagraphStyle) -> ParagraphStyle:
    """Return a style aligned to the right, for amounts."""
    return ParagraphStyle(f"{look.name}-right", parent=look, alignment=TA_RIGHT)


class Pages:
    """A document being written. What does not fit goes on the next page, a table's below its head again."""

    def __init__(
        self,
        paper: Paper,
        title: str,
        author: str,
        language: str,
        *,
        head: str = "",
        foot: Foot | None = None,
    ) -> None:
        self._out = BytesIO()
        self.canvas = sheet.start(self._out, paper, title, author, language)
        self.wide, self.high = sheet.SIZES[paper]
        self.width = self.wide - 2 * MARGIN
        self._table_head: Sequence[Cell] = ()
        self._head, self._foot, self._page = head, foot, 0
        self._furniture = sheet.style(FURNITURE, colour=_INKS["muted"])
        self.top = 0.0
        self._begin()

    def text(self, words: str, look: ParagraphStyle, after: float = 2 * MM) -> None:
        """Set a paragraph; an empty text is left out."""
        if not words:
            return
        self.room_for(sheet.height(words, look, self.width))
        self.top = sheet.write(self.canvas, words, look, MARGIN, self.top, self.width) - after

    def line(self, cells: Sequence[Cell]) -> None:
        """Set cells side by side and a rule below them."""
        blocks = [
            sheet.block(words or " ", look, share * self.width - 2 * MM) for words, look, share in cells
        ]
        high = max(one.high for one in blocks)
        self.room_for(high + 2 * MM)
        left = MARGIN
        for one, (_text, _look, share) in zip(blocks, cells, strict=True):
            one.draw(self.canvas, left, self.top)
            left += share * self.width
        self.top -= high + 1 * MM
        self.canvas.setStrokeColor(RULE)
        self.canvas.line(MARGIN, self.top, self.wide - MARGIN, self.top)
        self.top -= 1 * MM

    def table(self, head: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> None:
        """Set rows below a head, which stands on each further page again."""
        self.line(head)
        self._table_head = head
        for row in rows:
            self.line(row)
        self._table_head = ()

    def drawing(self, drawn: Drawing) -> None:
        """Set a drawing, scaled down where it is wider than the page."""
        scale = min(1.0, self.width / drawn.width)
        self.room_for(drawn.height * scale)
        self.top -= drawn.height * scale
        self.canvas.saveState()
        self.canvas.translate(MARGIN, self.top)
        self.canvas.scale(scale, scale)
        renderPDF.draw(drawn, self.canvas, 0, 0)
        self.canvas.restoreState()
        self.top -= 2 * MM

    def room_for(self, high: float) -> None:
        """Begin another page where `high` points no longer fit on this one."""
        if self.top - high < MARGIN:
            self._end()
            self._begin()
            if self._table_head:
                self.line(self._table_head)

    def done(self) -> bytes:
        """Return the whole document, the same bytes each time."""
        self._end()
        self._count()
        self.canvas.save()
        return self._out.getvalue()

    def _begin(self) -> None:
        self._page += 1
        self.top = self.high - MARGIN
        if self._head and self._page > 1:
            sheet.write(self.canvas, self._head, self._furniture, MARGIN, self.high - 9 * MM, self.width)

    def _end(self) -> None:
        if self._foot:
            self.canvas.doForm(f"foot{self._page}")
        self.canvas.showPage()

    def _count(self) -> None:
        """Write the feet: every page refers to its own, which needs the number of all pages."""
        if self._foot is None:
            return
        for page in range(1, self._page + 1):
            self.canvas.beginForm(f"foot{page}")
            foot = self._foot(page, self._page)
            sheet.write(self.canvas, foot, right(self._furniture), MARGIN, 12 * MM, self.width)
            self.canvas.endForm()


PLAIN = sheet.style(9.5)
BOLD = sheet.style(9.5, font=fonts.BOLD)
QUIET = sheet.style(8.5, colour=_INKS["muted"])
HEADING = sheet.style(13, font=fonts.STAMP)
TITLE = sheet.style(24, font=fonts.DISPLAY, lead=1.1)


def pictures_pdf(
    title: str, lines: Iterable[str], pictures: Sequence[Picture], paper: Paper, author: str, language: str
) -> bytes:
    """Return a PDF of pictures under a title and lines of text, the same bytes each time."""
    pages = Pages(paper, f"{title} · {author}", author, language, head=title, foot=_foot)
    pages.text(author, QUIET)
    pages.text(title, TITLE, after=4 * MM)
    for line in lines:
        pages.text(line, PLAIN)
    for picture in pictures:
        _picture(pages, picture, alone=picture.title == title)
    return pages.done()


def _picture(pages: Pages, picture: Picture, *, alone: bool) -> None:
    pages.room_for(picture.drawing.height + 30 * MM)
    if not alone:
        pages.text(picture.title, HEADING, after=3 * MM)
    pages.drawing(picture.printed())
    pages.text(picture.description, PLAIN, after=4 * MM)
    if picture.rows:
        share = 1.0 / len(picture.head)
        rows = ([(cell, PLAIN, share) for cell in row] for row in picture.rows)
        pages.table([(cell, BOLD, share) for cell in picture.head], rows)
        pages.top -= 4 * MM


def _foot(page: int, pages: int) -> str:
    return f"{page} / {pages}"
