"""Pictures of records on paper: the same drawings as on the screen, each with its words and its table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kiosk.paper.pages import BOLD, HEADING, PLAIN, QUIET, TITLE, Pages
from kiosk.paper.pictures import Picture, Rows
from kiosk.paper.sheet import MM, Paper


def pictures_pdf(
    title: str, told: Iterable[str], pictures: Sequence[Picture], paper: Paper, author: str, language: str
) -> bytes:
    """Return pictures as a PDF under a title and paragraphs, the same bytes each time."""
    pages = Pages(paper, f"{title} · {author}", author, language, head=title, foot=_foot)
    pages.text(author, QUIET)
    pages.text(title, TITLE, after=4 * MM)
    for paragraph in told:
        pages.text(paragraph, PLAIN)
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
        _table(pages, picture.head, picture.rows)


def _table(pages: Pages, head: Sequence[str], rows: Rows) -> None:
    share = 1.0 / len(head)

    def heads() -> None:
        pages.line([(cell, BOLD, share) for cell in head])

    heads()
    pages.repeat = heads
    for row in rows:
        pages.line([(cell, PLAIN, share) for cell in row])
    pages.repeat = None
    pages.top -= 4 * MM


def _foot(page: int, pages: int) -> str:
    return f"{page} / {pages}"
