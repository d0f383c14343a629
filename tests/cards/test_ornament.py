"""The drawn things of a card leave their mark, in their own colours."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import pytest
from reportlab.pdfgen.canvas import Canvas

from kiosk.cards import ornament
from tests.paper.reading import pictures

ACCENT = "#24512f"


@pytest.mark.parametrize(
    ("draw", "colour"),
    [
        (lambda canvas: ornament.cane(canvas, 20, 20, 60), ornament.COPPER),
        (lambda canvas: ornament.cane(canvas, 20, 20, 60), ornament.LEAF),
        (lambda canvas: ornament.stalk(canvas, 10, 50, 80, ACCENT), ACCENT),
        (lambda canvas: ornament.node(canvas, 50, 50, ACCENT), ACCENT),
        (lambda canvas: ornament.phone(canvas, 30, 20, 60, away=True), ornament.PALE),
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
        ornament.phone(canvas, 30, 20, 60, away)
        canvas.save()
        return sum(1 for value in pictures(out.getvalue())[0].convert("L").tobytes() if value > 128)

    assert ink(True) > ink(False)
