"""The site's own colours, and the contrast of the house's tokens in both themes."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest

from kiosk.site.settings import Colours
from kiosk.web import theme

CSS = Path(theme.__file__).parent / "static" / "css"


def tokens(name: str) -> dict[str, str]:
    """Return the colour tokens that a stylesheet sets."""
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (CSS / name).read_text(encoding="utf-8")))


LIGHT = tokens("tokens.css")
DARK = LIGHT | tokens("dark.css")

# WCAG 2.2, 1.4.3: text needs 4.5 on what it stands on; 1.4.11: controls need 3.
TEXT = ("ink", "ink-quiet", "cane", "copper", "ok", "wait", "stop", "rest")
GROUNDS = ("ground", "raised", "sunk")
CONTROLS = ("line-strong", "focus")


@pytest.mark.parametrize(("colours", "ink", "ground"), list(product((LIGHT, DARK), TEXT, GROUNDS)))
def test_text_can_be_read_in_both_themes(colours: dict[str, str], ink: str, ground: str) -> None:
    assert theme.contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize(("colours", "line", "ground"), list(product((LIGHT, DARK), CONTROLS, GROUNDS)))
def test_controls_can_be_seen_in_both_themes(colours: dict[str, str], line: str, ground: str) -> None:
    assert theme.contrast(colours[line], colours[ground]) >= 3


@pytest.mark.parametrize("colours", [LIGHT, DARK])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        ("stop", "stop-soft"),
        ("ink", "stop-soft"),
        ("ink", "copper-soft"),
        ("molasses-ink", "molasses"),
        ("stop-ink", "stop"),
    ],
)
def test_text_can_be_read_on_coloured_grounds(colours: dict[str, str], ink: str, ground: str) -> None:
    assert theme.contrast(colours[ink], colours[ground]) >= 4.5


# Ratios published with the definition: black on white 21, the same colour 1;
# #777777 on white 4.48 (WCAG 2.2, understanding 1.4.3, just short of 4.5).
@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21), ("#123456", "#123456", 1), ("#777777", "#ffffff", 4.48)],
)
def test_contrast_is_that_of_the_standard(one: str, other: str, ratio: float) -> None:
    assert theme.contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("accent", ["#24512f", "#a9cf8d", "#808080", "#98491a"])
def test_the_ink_on_an_accent_can_be_read(accent: str) -> None:
    assert theme.contrast(theme.ink_on(accent), accent) >= 4.5


def test_the_stylesheet_holds_the_sites_colours_and_nothing_else() -> None:
    made = theme.stylesheet(Colours("#24512f", "#a9cf8d"))
    assert re.findall(r"--site-accent(?:-dark)?: (\S+);", made) == ["#24512f", "#a9cf8d"]
