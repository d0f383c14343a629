"""A stop's sign: its drawings, its code, its words, its fonts, on both sheets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from kiosk.cards.listing import NoPublicAddress
from kiosk.cards.stop_sign import stop_sign_pdf
from kiosk.paper.sheet import Paper
from kiosk.site.content.symbols import PROTECTION_SIGNS
from kiosk.site.images import NONE, read_images
from kiosk.site.toml_reader import Where
from kiosk.words.catalogs import Words
from tests.actors import small_site
from tests.cards.stops import stop
from tests.paper.reading import embedded, fonts_in, pictures, read_by_both, words_on
from tests.words.readers import ENGLISH, SPANISH

LANGUAGES = [[ENGLISH], [SPANISH], [ENGLISH, SPANISH]]
NASTY = '<img src="/etc/hosts"/> & <b>Ron</b>'


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("languages", LANGUAGES, ids=["en", "es", "both"])
def test_the_code_is_read_by_two_decoders_and_opens_the_stop(
    paper: Paper, languages: Sequence[Words], tmp_path: Path
) -> None:
    pages = pictures(stop_sign_pdf(small_site(tmp_path), stop(), 6, languages, paper))
    assert len(pages) == 1
    address = "https://visit.example/s/still-house"
    assert read_by_both(pages[0]) == ([address], address)


@pytest.mark.parametrize("paper", list(Paper))
def test_the_code_is_large_enough_for_a_metre_and_more(paper: Paper, tmp_path: Path) -> None:
    # a code's width of about a tenth of the reading distance: rule of thumb, from memory
    picture = pictures(stop_sign_pdf(small_site(tmp_path), stop(), 6, [ENGLISH, SPANISH], paper), dpi=254)[0]
    corners = zxingcpp.read_barcodes(picture)[0].position
    assert (corners.top_right.x - corners.top_left.x) / 10 >= 90  # mm


def test_both_languages_say_the_same_side_by_side(tmp_path: Path) -> None:
    shown = words_on(stop_sign_pdf(small_site(tmp_path), stop(), 6, [ENGLISH, SPANISH], Paper.A4))
    for line in (
        "STILL HOUSE",
        "CASA DE ALAMBIQUES",
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
    outside = words_on(stop_sign_pdf(site, stop(), 6, [ENGLISH, SPANISH], Paper.LETTER))
    assert "Read this here, then put phones away" in outside
    assert "Lea esto aquí y luego guarde el teléfono" in outside
    inside = words_on(stop_sign_pdf(site, stop(phones="yes"), 6, [ENGLISH], Paper.LETTER))
    assert "put phones away" not in inside


def test_a_name_that_looks_like_markup_is_printed_as_text(tmp_path: Path) -> None:
    named = stop(names={"en": NASTY, "es": NASTY})
    pdf = stop_sign_pdf(small_site(tmp_path, name=NASTY), named, 6, [ENGLISH, SPANISH], Paper.A4)
    assert words_on(pdf).count("<img") == 3  # both languages and the house's own name
    assert b"/Subtype /Image" not in pdf
    assert len(pictures(pdf)) == 1


@pytest.mark.parametrize("name", ["Ñ" * 60, "Trapiche y casa de calderas del cañaveral viejo de arriba " * 3])
def test_a_long_name_still_leaves_room_for_the_code(name: str, tmp_path: Path) -> None:
    named = stop(names={"en": name, "es": name})
    pdf = stop_sign_pdf(small_site(tmp_path), named, 6, [ENGLISH, SPANISH], Paper.LETTER)
    assert read_by_both(pictures(pdf)[0])[0] == ["https://visit.example/s/still-house"]


def test_every_font_is_embedded(tmp_path: Path) -> None:
    pdf = stop_sign_pdf(small_site(tmp_path), stop(), 6, [ENGLISH, SPANISH], Paper.A4)
    assert "Helvetica" not in " ".join(fonts_in(pdf))
    assert embedded(pdf) == len(fonts_in(pdf)) == 3


def test_the_sites_own_lines_stand_on_the_card(tmp_path: Path) -> None:
    site = small_site(tmp_path, label_lines={"en": ("Bottled by nobody, Nowhere.",)})
    shown = words_on(stop_sign_pdf(site, stop(), 6, [ENGLISH, SPANISH], Paper.A4))
    assert "Bottled by nobody, Nowhere." in shown
    assert "21 años" in shown  # a language without lines of its own has the age line


def test_no_card_is_printed_with_an_address_of_this_machine_only(tmp_path: Path) -> None:
    site = small_site(tmp_path, public_address="http://127.0.0.1:8000")
    with pytest.raises(NoPublicAddress):
        stop_sign_pdf(site, stop(), 6, [ENGLISH], Paper.A4)


def test_the_same_card_has_the_same_bytes(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    assert stop_sign_pdf(site, stop(), 6, [ENGLISH], Paper.A4) == stop_sign_pdf(
        site, stop(), 6, [ENGLISH], Paper.A4
    )


def test_the_number_stands_on_the_sign_and_the_name_in_the_display_face(tmp_path: Path) -> None:
    pdf = stop_sign_pdf(small_site(tmp_path), stop(), 6, [ENGLISH, SPANISH], Paper.A4)
    assert " 6 " in f" {words_on(pdf)} "
    assert any("KioskStencil" in name for name in fonts_in(pdf))


def test_every_need_has_its_icon_on_both_sheets(tmp_path: Path) -> None:
    everything = stop(protection=tuple(PROTECTION_SIGNS))
    for paper in Paper:
        pdf = stop_sign_pdf(small_site(tmp_path), everything, 6, [ENGLISH, SPANISH], paper)
        said = words_on(pdf)
        assert all(words in said for _icon, words in PROTECTION_SIGNS.values())
        assert read_by_both(pictures(pdf)[0])[0] == ["https://visit.example/s/still-house"]


@pytest.mark.parametrize("paper", list(Paper))
def test_a_sign_in_one_ink_has_greys_only_and_its_code_is_read(paper: Paper, tmp_path: Path) -> None:
    site = small_site(tmp_path)
    page = pictures(stop_sign_pdf(site, stop(), 6, [ENGLISH, SPANISH], paper, one_ink=True))[0]
    assert max(high - low for high, low in spreads(page)) == 0
    assert read_by_both(page)[0] == ["https://visit.example/s/still-house"]
    coloured = pictures(stop_sign_pdf(site, stop(), 6, [ENGLISH, SPANISH], paper))[0]
    accent = tuple(bytes.fromhex(site.colours.accent[1:]))
    assert accent in {colour for _count, colour in coloured.convert("RGB").getcolors(1 << 24)}


@pytest.mark.parametrize("shade", [30, 230])
def test_the_houses_own_mark_stands_on_its_sign(shade: int, tmp_path: Path) -> None:
    Image.new("RGB", (120, 60), (shade, 0, shade)).save(tmp_path / "mark.png")
    own = read_images({**NONE, "mark": "mark.png"}, tmp_path.resolve(), Where("site.toml", "", []))
    site = small_site(tmp_path, images=own)
    page = pictures(stop_sign_pdf(site, stop(), 6, [ENGLISH], Paper.A4))[0].convert("RGB")
    colours = {colour for count, colour in page.getcolors(1 << 24) if count > 500}
    assert any(abs(red - shade) < 4 and green < 4 and abs(blue - shade) < 4 for red, green, blue in colours)
    grey = pictures(stop_sign_pdf(site, stop(), 6, [ENGLISH], Paper.A4, one_ink=True))[0]
    assert max(high - low for high, low in spreads(grey)) == 0
    assert read_by_both(grey)[0] == ["https://visit.example/s/still-house"]


def spreads(page: Image.Image) -> list[tuple[int, int]]:
    """Return the greatest and the least channel of each colour of a page."""
    return [(max(colour), min(colour)) for _count, colour in page.convert("RGB").getcolors(1 << 24)]
