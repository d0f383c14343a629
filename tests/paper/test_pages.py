"""Running pages: what does not fit goes on the next one, under its head, numbered of all.

Pictures on paper: the drawing of the screen with its words and its whole table, page after page.
"""

from __future__ import annotations

import re
from io import BytesIO

import pypdfium2
import pytest

from kiosk.paper import sheet
from kiosk.paper.pages import PLAIN, Pages, pictures_pdf, right
from kiosk.paper.pictures import Picture
from kiosk.paper.sheet import Paper
from tests.paper.test_pictures import a_flow


def read(pdf: bytes) -> list[str]:
    """Return the text of each page."""
    return [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf)]


def filled(lines: int) -> bytes:
    pages = Pages(
        Paper.A4, "Title", "House", "en", head="House, June 16", foot=lambda page, of: f"Page {page} of {of}"
    )
    head = (("Number", PLAIN, 0.5), ("Amount", right(PLAIN), 0.5))
    pages.table(head, (((f"line {n}", PLAIN, 0.5), (f"{n} mL", right(PLAIN), 0.5)) for n in range(lines)))
    return pages.done()


def test_every_line_stands_once_and_every_page_knows_its_number_of_all() -> None:
    said = read(filled(200))
    assert len(said) > 3
    for n, page in enumerate(said, 1):
        assert f"Page {n} of {len(said)}" in page
    together = "\n".join(said)
    assert [together.count(f"line {n}\r") + together.count(f"line {n} ") for n in (0, 77, 199)] == [1, 1, 1]


def test_a_further_page_begins_with_the_head_and_what_repeats() -> None:
    first, *further = read(filled(120))
    assert "House, June 16" not in first
    for page in further:
        assert "House, June 16" in page
        assert page.count("Amount") == 1


def test_the_same_lines_are_the_same_bytes_and_text_is_never_markup() -> None:
    assert filled(3) == filled(3)
    pages = Pages(Paper.LETTER, "t", "a", "en")
    pages.text('<img src="/etc/hostname"/> & <b>Ana', PLAIN)
    assert '<img src="/etc/hostname"/> & <b>Ana' in read(pages.done())[0]


@pytest.mark.parametrize("look", [PLAIN, right(PLAIN)])
@pytest.mark.parametrize(
    "said", ["Ana & <b>Bea", "añejo, 0.5 fl oz", "a text that is far too long for its cell"]
)
def test_a_text_that_fits_on_a_line_stands_where_a_paragraph_would_set_it(look, said) -> None:
    """The quick way and the long one give the same page, pixel for pixel."""
    width = 160.0
    pictures = []
    for quick in (True, False):
        out = BytesIO()
        canvas = sheet.start(out, Paper.A4, "t", "a", "en")
        if quick:
            one = sheet.block(said, look, width)
            one.draw(canvas, 100.0, 700.0)
            lower = 700.0 - one.high
        else:
            lower = sheet.write(canvas, said, look, 100.0, 700.0, width)
        canvas.showPage()
        canvas.save()
        document = pypdfium2.PdfDocument(out.getvalue())
        pictures.append((lower, document[0].render(scale=2).to_pil().tobytes()))
        document.close()
    assert pictures[0] == pictures[1]


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
    for said in ("The house", "A LOT", "A paragraph.", "Title <b>", "Its words", "Hill"):
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
