"""A stop's sign: its drawings, its code, its words, its fonts, on both sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from reportlab.pdfgen.canvas import Canvas

from kiosk.cards import stop_sign
from kiosk.cards.listing import NoPublicAddress
from kiosk.cards.stop_sign import stop_sign_pdf
from kiosk.paper.sheet import Paper
from kiosk.words.catalogs import Words
from tests.actors import small_site
from tests.cards.stops import stop
from tests.paper.reading import embedded, fonts_in, pictures, read_by_both, words_on
from tests.words.readers import ENGLISH, SPANISH

ACCENT = "#24512f"


@pytest.mark.parametrize(
    ("draw", "colour"),
    [
        (lambda canvas: stop_sign.draw_cane(canvas, 20, 20, 60), stop_sign.COPPER),
        (lambda canvas: stop_sign.draw_cane(canvas, 20, 20, 60), stop_sign.LEAF),
        (lambda canvas: stop_sign.draw_stalk(canvas, 10, 50, 80, ACCENT), ACCENT),
        (lambda canvas: stop_sign.draw_node(canvas, 50, 50, ACCENT), ACCENT),
        (lambda canvas: stop_sign.draw_phone(canvas, 30, 20, 60, away=True), stop_sign.PALE),
    ],
    ids=["cane", "leaf", "stalk", "node", "phone"],
)
def test_each_is_drawn_in_its_colour(draw: Callable[[Canvas], None], colour: str) -> None:
    out = BytesIO()
    canvas = Canvas(out, pagesize=(100, 100), invariant=1)
    canvas.rect(0, 0, 100, 100, stroke=0, fill=1)  # on black, so that pale ones show
    draw(canvas)
    canvas.save()
    seen = {pixel[1] for pixel in pictures(out.getvalue())[0].convert("RGB").getcolors(1 << 24)}
    assert tuple(bytes.fromhex(colour[1:])) in seen


def test_a_phone_to_be_put_away_is_struck_through() -> None:
    def ink(away: bool) -> int:
        out = BytesIO()
        canvas = Canvas(out, pagesize=(100, 100), invariant=1)
        canvas.rect(0, 0, 100, 100, stroke=0, fill=1)
        stop_sign.draw_phone(canvas, 30, 20, 60, away)
        canvas.save()
        return sum(1 for value in pictures(out.getvalue())[0].convert("L").tobytes() if value > 128)

    assert ink(True) > ink(False)


LANGUAGES = [[ENGLISH], [SPANISH], [ENGLISH, SPANISH]]
NASTY = '<img src="/etc/hosts"/> & <b>Ron</b>'


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("languages", LANGUAGES, ids=["en", "es", "both"])
def test_the_code_is_read_by_two_decoders_and_opens_the_stop(
    paper: Paper, languages: Sequence[Words], tmp_path: Path
) -> None:
    pages = pictures(stop_sign_pdf(small_site(tmp_path), stop(), languages, paper))
    assert len(pages) == 1
    address = "https://visit.example/s/still-house"
    assert read_by_both(pages[0]) == ([address], address)


@pytest.mark.parametrize("paper", list(Paper))
def test_the_code_is_large_enough_for_a_metre_and_more(paper: Paper, tmp_path: Path) -> None:
    # a code's width of about a tenth of the reading distance: rule of thumb, from memory
    picture = pictures(stop_sign_pdf(small_site(tmp_path), stop(), [ENGLISH, SPANISH], paper), dpi=254)[0]
    corners = zxingcpp.read_barcodes(picture)[0].position
    assert (corners.top_right.x - corners.top_left.x) / 10 >= 90  # mm


def test_both_languages_say_the_same_side_by_side(tmp_path: Path) -> None:
    shown = words_on(stop_sign_pdf(small_site(tmp_path), stop(), [ENGLISH, SPANISH], Paper.A4))
    for line in (
        "Still house",
        "Casa de alambiques",
        "Eye protection",
        "Protección para los ojos",
        "3 escalones",
        "https://visit.example/s/still-house",
        "guests of 21 and over",
        "21 años",
    ):
        assert line in shown


def test_a_stop_whose_phones_stay_at_the_door_prints_the_outside_sign(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    outside = words_on(stop_sign_pdf(site, stop(), [ENGLISH, SPANISH], Paper.LETTER))
    assert "Read this here, then put phones away" in outside
    assert "Lea esto aquí y luego guarde el teléfono" in outside
    inside = words_on(stop_sign_pdf(site, stop(phones="yes"), [ENGLISH], Paper.LETTER))
    assert "put phones away" not in inside


def test_a_name_that_looks_like_markup_is_printed_as_text(tmp_path: Path) -> None:
    named = stop(names={"en": NASTY, "es": NASTY})
    pdf = stop_sign_pdf(small_site(tmp_path, name=NASTY), named, [ENGLISH, SPANISH], Paper.A4)
    assert words_on(pdf).count("<img") == 3  # both languages and the house's own name
    assert b"/Subtype /Image" not in pdf
    assert len(pictures(pdf)) == 1


@pytest.mark.parametrize("name", ["Ñ" * 60, "Trapiche y casa de calderas del cañaveral viejo de arriba " * 3])
def test_a_long_name_still_leaves_room_for_the_code(name: str, tmp_path: Path) -> None:
    named = stop(names={"en": name, "es": name})
    pdf = stop_sign_pdf(small_site(tmp_path), named, [ENGLISH, SPANISH], Paper.LETTER)
    assert read_by_both(pictures(pdf)[0])[0] == ["https://visit.example/s/still-house"]


def test_every_font_is_embedded(tmp_path: Path) -> None:
    pdf = stop_sign_pdf(small_site(tmp_path), stop(), [ENGLISH, SPANISH], Paper.A4)
    assert "Helvetica" not in " ".join(fonts_in(pdf))
    assert embedded(pdf) == len(fonts_in(pdf)) == 2


def test_the_sites_own_lines_stand_on_the_card(tmp_path: Path) -> None:
    site = small_site(tmp_path, label_lines={"en": ("Bottled by nobody, Nowhere.",)})
    shown = words_on(stop_sign_pdf(site, stop(), [ENGLISH, SPANISH], Paper.A4))
    assert "Bottled by nobody, Nowhere." in shown
    assert "21 años" in shown  # a language without lines of its own has the age line


def test_no_card_is_printed_with_an_address_of_this_machine_only(tmp_path: Path) -> None:
    site = small_site(tmp_path, public_address="http://127.0.0.1:8000")
    with pytest.raises(NoPublicAddress):
        stop_sign_pdf(site, stop(), [ENGLISH], Paper.A4)


def test_the_same_card_has_the_same_bytes(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    assert stop_sign_pdf(site, stop(), [ENGLISH], Paper.A4) == stop_sign_pdf(
        site, stop(), [ENGLISH], Paper.A4
    )
