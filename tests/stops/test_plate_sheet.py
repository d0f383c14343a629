"""The plate of a stop on paper: its letters, its figure with the time, both sizes, two languages, one ink."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import pytest

from kiosk.figures.figure import RESTING, Basis, Figure
from kiosk.paper.sheet import Paper
from kiosk.stops.instruments import Explanation, explain
from kiosk.stops.plate_sheet import Column, plate_pdf, plate_sheet
from kiosk.stops.plates import PLATES
from tests.actors import hire
from tests.paper.reading import embedded, fonts_in, pictures, words_on
from tests.walking import Walk, everything_fresh


def printed(walk: Walk, slug: str, languages: Sequence[str], paper: Paper = Paper.A4, **more: bool) -> bytes:
    readers = [walk.reader(code) for code in languages]
    pdf = plate_sheet(walk.site, walk.content, slug, readers, lambda _: [], walk.clock.at, paper, **more)
    assert pdf
    return pdf


def test_the_sheet_says_each_letter_in_both_languages(walk: Walk) -> None:
    said = words_on(printed(walk, "cask-store", ["en", "es"]))
    for line in (
        "CASK STORE",
        "BODEGA DE BARRILES",
        "Rod, wetted up to where the spirit stands",
        "Vara, se moja hasta donde llega el destilado",
    ):
        assert line in said
    assert all(said.split().count(letter) >= 3 for letter in "BCDE")  # on the plate, and in each list


@pytest.mark.parametrize(
    ("language", "lines"),
    [
        ("en", ("The spirit is running at 71.3", "current", "as of", "measured", "Made on June 16, 2026, ")),
        ("es", ("71.3", "al día", "dato de", "medido", "Hecho el 16 de junio de 2026, ")),
    ],
)
def test_a_figure_stands_with_its_time_and_the_sheet_with_its_own(
    walk: Walk, language: str, lines: tuple[str, ...]
) -> None:
    walk.told("run_abv_now", 71.3)
    said = words_on(printed(walk, "still-house", [language]))
    for line in lines:
        assert line in said, line
    walk.clock.pass_s(600)
    assert words_on(printed(walk, "still-house", [language])) != said


def test_an_instrument_at_rest_says_so_and_has_no_figure(walk: Walk) -> None:
    last = walk.clock.at - timedelta(days=3)
    walk.figures["run_abv_now", ""] = Figure(None, last, Basis.STATED, missing=RESTING)
    said = words_on(printed(walk, "still-house", ["en"]))
    assert "The still rests" in said
    assert "71.3" not in said


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("slug", ["still-house", "cask-store", "tasting-room"])
def test_both_papers_hold_all_of_it_on_one_page(walk: Walk, slug: str, paper: Paper) -> None:
    everything_fresh(walk)
    pdf = printed(walk, slug, ["en", "es"], paper)
    (page,) = pictures(pdf)
    foot = page.convert("L").crop((0, page.height * 97 // 100, page.width, page.height))
    assert foot.getextrema() == (255, 255)  # nothing runs off the sheet
    assert "Helvetica" not in " ".join(fonts_in(pdf))
    assert embedded(pdf) == len(fonts_in(pdf))


def test_one_ink_has_greys_only(walk: Walk) -> None:
    everything_fresh(walk)
    (page,) = pictures(printed(walk, "cask-store", ["es"], one_ink=True))
    colours = page.convert("RGB").getcolors(1 << 24)
    assert max(max(colour) - min(colour) for _count, colour in colours) == 0
    coloured = pictures(printed(walk, "cask-store", ["es"]))[0].convert("RGB").getcolors(1 << 24)
    assert max(max(colour) - min(colour) for _count, colour in coloured) > 60


def test_long_names_and_notes_stay_on_the_sheet(walk: Walk) -> None:
    """The words shrink before the drawing does, and the plate keeps a size that can be read."""
    everything_fresh(walk)
    plate = explain("cask-store", walk.reader("es"), 3, lambda _: [])
    assert plate
    long = Explanation(
        plate.title * 3,
        plate.drawing,
        [type(part)(part.letter, part.name * 3) for part in plate.parts],
        plate.heading * 2,
        plate.instrument,
        plate.figures,
        "",
    )
    columns = [Column(walk.reader(code).words, "Ñ" * 50, long) for code in ("en", "es")]
    (page,) = pictures(plate_pdf(walk.site, 12, columns, walk.clock.at, Paper.LETTER))
    assert (
        page.convert("L").crop((0, page.height * 97 // 100, page.width, page.height)).getextrema()[0] == 255
    )


@pytest.mark.parametrize("slug", PLATES)
def test_every_plate_prints(walk: Walk, slug: str) -> None:
    plates = [
        (walk.reader(code), explain(slug, walk.reader(code), 10, lambda _: [])) for code in ("en", "es")
    ]
    columns = [Column(reader.words, slug, plate) for reader, plate in plates if plate]
    said = words_on(plate_pdf(walk.site, 4, columns, walk.clock.at, Paper.A4))
    for _, plate in plates:
        assert plate
        assert all(part.name.partition(",")[0] in said for part in plate.parts)


def test_staff_print_it_and_a_stop_without_a_plate_has_none(walk: Walk) -> None:
    screen = walk.screen()
    assert screen.get("/staff/stops/cask-store/plate.pdf").status_code == 404
    guide = hire(walk.store, walk.site, walk.clock.at)
    screen.enrol(walk.store, walk.site, walk.clock.at)
    screen.sign_in(guide)
    answer = screen.get("/staff/stops/cask-store/plate.pdf?paper=letter&language=es&ink=one")
    assert answer.mimetype == "application/pdf"
    assert "BODEGA DE BARRILES" in words_on(answer.data)
    assert "CASK STORE" not in words_on(answer.data)
    for path in (
        "no-such-stop/plate.pdf",
        "cask-store/plate.pdf?language=xx",
        "cask-store/plate.pdf?paper=roll",
    ):
        assert screen.get(f"/staff/stops/{path}").status_code == 404
