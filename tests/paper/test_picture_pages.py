"""Pictures on paper: the drawing of the screen with its words and its whole table, page after page."""

from __future__ import annotations

import re

import pypdfium2
import pytest

from kiosk.paper.picture_pages import pictures_pdf
from kiosk.paper.pictures import Picture
from kiosk.paper.sheet import Paper
from tests.paper.test_svg import a_flow

ROWS = [(f"row {n}", f"{n}%") for n in range(80)]


def texts(pdf: bytes) -> list[str]:
    """Return the text of every page."""
    return [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]


@pytest.mark.parametrize("paper", Paper)
def test_a_picture_stands_with_its_title_its_words_and_every_row(paper: Paper) -> None:
    picture = Picture("p", "Title <b>", "Its words", a_flow(), ("What", "Share"), ROWS)
    pdf = pictures_pdf("A lot", ["A paragraph."], [picture], paper, "The house", "en")
    pages = texts(pdf)
    assert pdf == pictures_pdf("A lot", ["A paragraph."], [picture], paper, "The house", "en")
    for said in ("The house", "A lot", "A paragraph.", "Title <b>", "Its words", "Hill"):
        assert said.replace(" ", "") in "".join(pages[0].split()), said
    assert all(any(re.search(rf"row {n}\b", page) for page in pages) for n in range(80))
    assert len(pages) > 1
    assert all("What" in page for page in pages)
    assert [f"{n} / {len(pages)}" in page for n, page in enumerate(pages, 1)] == [True] * len(pages)


def test_a_drawing_never_leaves_the_paper() -> None:
    """Rendered, the margins stay white."""
    picture = Picture("p", "Title", "Its words", a_flow())
    (page,) = pypdfium2.PdfDocument(pictures_pdf("T", [], [picture], Paper.LETTER, "H", "en"))
    image = page.render(scale=1).to_numpy()
    assert (image[:, -40:] == 255).all()
    assert (image[:, :40] == 255).all()
    assert (image[:, 60:-60] < 255).any()
