"""Running pages: what does not fit goes on the next one, under its head, numbered of all."""

from __future__ import annotations

import pypdfium2

from kiosk.paper.pages import PLAIN, Pages, right
from kiosk.paper.sheet import Paper


def read(pdf: bytes) -> list[str]:
    """Return the text of each page."""
    return [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf)]


def filled(lines: int) -> bytes:
    pages = Pages(
        Paper.A4, "Title", "House", "en", head="House, June 16", foot=lambda page, of: f"Page {page} of {of}"
    )
    pages.repeat = lambda: pages.line((("Number", PLAIN, 0.5), ("Amount", right(PLAIN), 0.5)))
    for n in range(lines):
        pages.line(((f"line {n}", PLAIN, 0.5), (f"{n} mL", right(PLAIN), 0.5)))
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
