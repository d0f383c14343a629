"""A signed closing on paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from kiosk.paper import fonts, sheet
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site
from kiosk.tasting.closing_text import ShownClosing, ShownProduct
from kiosk.words.catalogs import Words

MARGIN = 18 * MM
COLUMNS = 5
"""Products side by side: more stand in another table below."""

PLAIN = sheet.style(9.5)
BOLD = sheet.style(9.5, font=fonts.BOLD)
QUIET = sheet.style(8.5, colour="#5c5148")
HEADING = sheet.style(13, font=fonts.BOLD)
TITLE = sheet.style(20, font=fonts.BOLD, lead=1.15)
AMOUNT = ParagraphStyle("amount", parent=PLAIN, alignment=TA_RIGHT)
AMOUNT_BOLD = ParagraphStyle("amount-bold", parent=BOLD, alignment=TA_RIGHT)


def closing_pdf(told: ShownClosing, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a closing as a PDF, the same bytes each time."""
    out = BytesIO()
    page = _Page(out, paper, f"{told.title} · {site.name}", site.name, words.language)
    page.text(site.name, QUIET)
    page.text(told.title, TITLE)
    page.text(told.place, BOLD, after=1 * MM)
    page.text(told.signed, PLAIN, after=1 * MM)
    page.text(words.gettext("mL at 20 °C; room at {temperature}", temperature=told.temperature), QUIET)
    for product in told.products:  # the mean over-pour first, then the sums
        page.text(f"{product.name}: {product.verdict}. {product.over_pour}", PLAIN, after=0.5 * MM)
        page.text(" · ".join(product.notes), QUIET, after=1.5 * MM)
    for start in range(0, len(told.products), COLUMNS):
        page.balance(told.products[start : start + COLUMNS], words)
    used_up = ((product.name, product.alcohol) for product in told.products if product.used)
    page.rows(words.gettext("Alcohol used in tasting"), used_up)
    page.rows(words.gettext("The shift"), ((label, str(n)) for label, n in told.totals))
    page.rows(words.gettext("Samples by server"), ((who, f"{n} · {much}") for who, n, much in told.servers))
    used = ((f"{name}, {who}", much) for name, who, much in told.house_use)
    page.rows(words.gettext("House use"), used)
    page.rows(words.gettext("Servings against a rule"), ((why, str(n)) for why, n in told.breaches))
    page.rows(words.gettext("Pours refused"), ((why, str(n)) for why, n in told.refusals))
    late = ((name, f"{n} · {much}") for name, n, much in told.after_closing)
    page.rows(words.gettext("After closing"), late)
    for note in told.notes:
        page.text(note, PLAIN)
    page.text(told.alcohol, QUIET)
    page.canvas.showPage()
    page.canvas.save()
    return out.getvalue()


class _Page:
    """A sheet that is written from the top down, and the next one when it is full."""

    def __init__(self, out: BytesIO, paper: Paper, title: str, author: str, language: str) -> None:
        self.canvas = sheet.start(out, paper, title, author, language)
        self.wide, self.high = sheet.SIZES[paper]
        self.width = self.wide - 2 * MARGIN
        self.top = self.high - MARGIN

    def _room_for(self, high: float) -> None:
        if self.top - high < MARGIN:
            self.canvas.showPage()
            self.top = self.high - MARGIN

    def text(self, words: str, look: ParagraphStyle, after: float = 2 * MM) -> None:
        """Set a paragraph; nothing where there are no words."""
        if not words:
            return
        self._room_for(sheet.height(words, look, self.width))
        self.top = sheet.write(self.canvas, words, look, MARGIN, self.top, self.width) - after

    def rows(self, heading: str, lines: Iterable[tuple[str, str]]) -> None:
        """Set a heading and lines of a text and its amount; nothing where there are no lines."""
        told = list(lines)
        if not told:
            return
        self._room_for(20 * MM)
        self.top -= 2 * MM
        self.text(heading, HEADING, after=1 * MM)
        for label, amount in told:
            self._line(((label, PLAIN, 0.5), (amount, AMOUNT, 0.5)))

    def balance(self, products: Sequence[ShownProduct], words: Words) -> None:
        """Set the balances of some products side by side."""
        self._room_for(75 * MM)
        self.top -= 2 * MM
        share = 0.7 / COLUMNS
        self._line((("", BOLD, 0.3), *((one.name, AMOUNT_BOLD, share) for one in products)))
        for n, (label, _text, _ml) in enumerate(products[0].amounts):
            looks = (BOLD, AMOUNT_BOLD) if n >= 8 else (PLAIN, AMOUNT)
            cells = ((one.amounts[n][1], looks[1], share) for one in products)
            self._line(((label, looks[0], 0.3), *cells))
        pours = ((str(one.pours), AMOUNT, share) for one in products)
        self._line(((words.gettext("Samples"), PLAIN, 0.3), *pours))
        self.top -= 3 * MM

    def _line(self, cells: Sequence[tuple[str, ParagraphStyle, float]]) -> None:
        widths = [share * self.width - 2 * MM for _words, _look, share in cells]
        high = max(
            sheet.height(said or " ", look, width)
            for (said, look, _share), width in zip(cells, widths, strict=True)
        )
        self._room_for(high + 2 * MM)
        left = MARGIN
        for (said, look, share), width in zip(cells, widths, strict=True):
            if said:
                sheet.write(self.canvas, said, look, left, self.top, width)
            left += share * self.width
        self.top -= high + 1 * MM
        self.canvas.setStrokeColor(HexColor("#d8cfc4"))
        self.canvas.line(MARGIN, self.top, self.wide - MARGIN, self.top)
        self.top -= 1 * MM
