"""Every drawing prints in colour and in one ink, and its curves are those of the screen."""

from __future__ import annotations

import io
import math

import pypdfium2
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from kiosk.drawings.icons import ICONS, icon
from kiosk.drawings.ink import circle, path, rectangle, svg
from kiosk.drawings.inks import INKS, house_inks, on_paper
from kiosk.drawings.stops import draw_stop
from kiosk.paper import fonts
from kiosk.paper.vectors import NotDrawn, PrintedDrawing, absolute, icon_inks, on_juice, one_ink
from tests.drawings.every import EVERY, INSTRUMENTS

PRINTED = {
    name: drawing
    for name, drawing in EVERY.items()
    if name in INSTRUMENTS
    or name.startswith(("plate", "frieze", "cell", "neutral"))
    or "stop-drawing" in drawing
}


HOUSE = on_juice(on_paper(INKS))


def printed(drawing: str, inks: object, width: float = 200) -> Image.Image:
    fonts.register()
    out = io.BytesIO()
    flowable = PrintedDrawing(drawing, width, inks)  # type: ignore[arg-type]
    canvas = Canvas(out, pagesize=flowable.wrap(0, 0))
    flowable.drawOn(canvas, 0, 0)
    canvas.save()
    return pypdfium2.PdfDocument(out.getvalue())[0].render(scale=2).to_pil().convert("RGB")


@pytest.mark.parametrize("name", PRINTED)
def test_a_drawing_prints_in_one_ink_and_nothing_else(name: str) -> None:
    image = printed(PRINTED[name], one_ink())
    assert all(r == g == b for _, (r, g, b) in image.getcolors(maxcolors=1_000_000) or [])
    dark = sum(count for count, (r, _, _) in image.getcolors(maxcolors=1_000_000) or [] if r < 100)
    assert 0.004 < dark / (image.width * image.height) < 0.75


def test_a_houses_accent_reaches_its_print() -> None:
    image = printed(draw_stop("mill"), on_juice(on_paper(house_inks("#006644", "#7fcb98"))))
    counts = {colour: count for count, colour in image.getcolors(maxcolors=1_000_000) or []}
    assert counts.get((0, 0x66, 0x44), 0) > 2000
    assert (0x47, 0x13, 0x40) not in counts


def share_dark(image: Image.Image, box: tuple[int, int, int, int]) -> float:
    part = image.convert("L").crop(box)
    return sum(v < 128 for v in part.tobytes()) / (part.width * part.height)


def test_in_one_ink_clay_is_hatched_and_paper_is_bare() -> None:
    drawing = svg((0, 0, 100, 50), rectangle("c", 0, 0, 50, 50) + rectangle("p", 50, 0, 50, 50), kind="x")
    image = printed(drawing, one_ink())
    assert 0.15 < share_dark(image, (10, 10, 180, 180)) < 0.6
    assert share_dark(image, (220, 10, 390, 180)) == 0


def test_shapes_stand_where_the_screen_has_them() -> None:
    drawing = svg((-10, -20, 100, 100), rectangle("k", -10, -20, 20, 30) + circle("k", 65, 55, 10), kind="x")
    image = printed(drawing, HOUSE, width=100)
    assert share_dark(image, (2, 2, 38, 58)) == 1
    assert share_dark(image, (44, 2, 190, 58)) == 0
    assert share_dark(image, (140, 140, 160, 160)) == 1


@pytest.mark.parametrize(("large", "sweep"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_an_arc_keeps_its_radius_and_side(large: int, sweep: int) -> None:
    steps = list(absolute(f"M10 0A10 10 0 {large} {sweep} 0 10"))
    centre = (0.0, 0.0) if large != sweep else (10.0, 10.0)
    assert steps[-1][1][-2:] == pytest.approx((0, 10))
    x0, y0 = 10.0, 0.0
    length = 0.0
    for command, v in steps[1:]:
        assert command == "C"
        before = (x0, y0)
        for i in range(1, 51):
            t = i / 50
            k = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            x, y = (
                k[0] * x0 + k[1] * v[0] + k[2] * v[2] + k[3] * v[4],
                k[0] * y0 + k[1] * v[1] + k[2] * v[3] + k[3] * v[5],
            )
            assert math.dist((x, y), centre) == pytest.approx(10, abs=0.01)
            length += math.dist((x, y), before)
            before = (x, y)
        x0, y0 = v[4], v[5]
    assert length == pytest.approx(math.pi * (15 if large else 5), rel=1e-2)


def test_relative_and_short_commands_become_absolute() -> None:
    assert list(absolute("M1 1h2v3h-2z")) == [
        ("M", (1, 1)),
        ("L", (3, 1)),
        ("L", (3, 4)),
        ("L", (1, 4)),
        ("Z", ()),
    ]
    assert list(absolute("M0 0q3 3 6 0t6 0"))[-1] == ("C", (8, -2, 10, -2, 12, 0))
    assert list(absolute("m1 1 2 2"))[1] == ("L", (3, 3))


@pytest.mark.parametrize("wrong", [path("k", "M0 0S1 1 2 2"), path("nothing", "M0 0H1"), "<image/>"])
def test_what_is_not_the_houses_is_refused(wrong: str) -> None:
    with pytest.raises(NotDrawn):
        printed(svg((0, 0, 10, 10), wrong, kind="x"), HOUSE)


@pytest.mark.parametrize("name", list(ICONS))
def test_every_icon_is_printed_in_its_colour(name: str) -> None:
    image = printed(icon(name), icon_inks("#24512f", "#ffffff"))
    seen = {colour for _count, colour in image.getcolors(maxcolors=1_000_000) or []}
    assert (0x24, 0x51, 0x2F) in seen
