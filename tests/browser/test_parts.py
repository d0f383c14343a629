"""The page of the parts: each state has a shape of its own, in both themes and without colours."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page

from tests.browser.conftest import PHONE, TABLET, Open, Served, sign_in
from tests.browser.test_access import cut_off, violations

pytestmark = pytest.mark.browser

PARTS = "/staff/manual/parts"
LEAST_SHARE = 0.03
"""The least part of their area in which two shapes of states differ."""
CLEAR = 50
"""How many of 255 greys a line stands off its ground at least."""


def grey(png: bytes) -> Any:
    """Return a picture as an array of greys."""
    return cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE).astype(int)


def outlines(page: Page) -> dict[str, Any]:
    """Return which pixels of each stamp stand off the ground, by the word of its state."""
    page.evaluate("document.querySelectorAll('.tab-bar').forEach(bar => bar.remove())")
    stamps = {}
    for shown in page.locator(".shown-stamp").all():
        drawn = grey(shown.locator("svg").screenshot())
        stamps[shown.inner_text().strip()] = np.abs(drawn - drawn[0, 0]) > CLEAR
    return stamps


def alike(stamps: dict[str, Any]) -> list[tuple[str, str]]:
    """Return the pairs of states whose shapes can hardly be told apart."""
    return [
        (one, other)
        for one, other in combinations(stamps, 2)
        if np.mean(stamps[one] ^ stamps[other]) < LEAST_SHARE
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_part_is_accessible_and_every_state_has_a_shape_of_its_own(
    open_page: Open, demo: Served, tmp_path: Path, language: str, scheme: str
) -> None:
    page = open_page(language, PHONE, color_scheme=scheme)
    sign_in(page, demo, f"parts {language} {scheme}", "Marisol", language)
    for width, height in (PHONE, TABLET):
        page.set_viewport_size({"width": width, "height": height})
        page.goto(PARTS)
        assert violations(page) == []
        assert cut_off(page) == []
        picture = grey(page.screenshot(path=tmp_path / f"parts-{width}.png", full_page=True))
        assert picture.shape[1] == width
        assert (picture.mean() < 128) == (scheme == "dark")
    stamps = outlines(page)
    assert len(stamps) == 7
    assert alike(stamps) == []


def test_states_keep_their_shapes_where_the_system_forces_its_own_colours(
    open_page: Open, demo: Served
) -> None:
    page = open_page("es", TABLET, forced_colors="active")
    sign_in(page, demo, "parts forced", "Marisol", "es")
    page.goto(PARTS)
    stamps = outlines(page)
    assert len(stamps) == 7
    assert alike(stamps) == []
    contrast = "color-contrast"  # of colours that the system chose
    assert [one for one in violations(page) if not one.startswith(contrast)] == []


def test_every_drawing_of_the_page_is_seen(open_page: Open, demo: Served) -> None:
    page = open_page("en", TABLET)
    sign_in(page, demo, "parts seen", "Marisol", "en")
    page.goto(PARTS)
    page.evaluate("document.querySelectorAll('.tab-bar').forEach(bar => bar.remove())")
    drawings = page.locator(".shown svg").all()
    assert len(drawings) == 31
    for drawing in drawings:
        assert np.ptp(grey(drawing.screenshot())) > CLEAR
