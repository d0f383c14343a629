"""An inspection's report on paper."""

from __future__ import annotations

from kiosk.paper import sheet
from kiosk.paper.fonts import BOLD as BOLD_FACE
from kiosk.paper.pages import HEADING, QUIET, TITLE, Cell, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site
from kiosk.tasting.inspection_saying import Section
from kiosk.tasting.inspection_text import Report
from kiosk.words.catalogs import Words

CELL = sheet.style(8)
HEAD = sheet.style(8, font=BOLD_FACE)
LOOKS = {False: (CELL, HEAD), True: (right(CELL), right(HEAD))}


def report_pdf(told: Report, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a report as a PDF, the same bytes each time."""

    def foot(page: int, of: int) -> str:
        return words.gettext("Page {n} of {of}", n=page, of=of)

    head = f"{site.name} · {told.title} · {told.span}"
    pages = Pages(paper, f"{told.title} · {site.name}", site.name, words.language, head=head, foot=foot)
    pages.text(site.name, QUIET)
    pages.text(told.title, TITLE)
    pages.text(told.span, HEADING, after=1 * MM)
    pages.text(told.made, QUIET)
    for section in told.sections:
        _section(pages, section, told.nothing)
    return pages.done()


def _section(pages: Pages, section: Section, nothing: str) -> None:
    pages.room_for(30 * MM)
    pages.top -= 3 * MM
    pages.text(section.title, HEADING, after=1 * MM)
    pages.text(section.note, QUIET, after=1 * MM)
    if not section.rows:
        pages.text("" if section.note else nothing, CELL)
        return

    def heads() -> None:
        pages.line([(c.head, LOOKS[c.amount][1], c.share) for c in section.columns])

    heads()
    pages.repeat = heads
    for row in section.rows:
        cells: list[Cell] = [
            (said, LOOKS[c.amount][0], c.share) for c, said in zip(section.columns, row, strict=True)
        ]
        pages.line(cells)
    pages.repeat = None
