"""The inks of the house keep their contrast, in light, in the dim room and with a house's own accent."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import kiosk
from kiosk.drawings import inks
from kiosk.site.shipped import shipped

HOUSE = Path(kiosk.__file__).parent
MANUAL = {code: shipped("content") / "manual" / f"look.{code}.md" for code in ("en", "es")}
STYLES = sorted((HOUSE / "web" / "static" / "css").glob("*.css"))
COLOURS = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


# Ratios published with the definition: black on white 21, the same colour 1;
# #777777 on white 4.48 (WCAG 2.2, understanding 1.4.3, just short of 4.5).
@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21), ("#123456", "#123456", 1), ("#777777", "#ffffff", 4.48)],
)
def test_contrast_is_that_of_the_standard(one: str, other: str, ratio: float) -> None:
    assert inks.contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert inks.contrast(other, one) == pytest.approx(ratio, abs=0.005)


def test_every_pair_of_the_house_keeps_its_contrast() -> None:
    assert [*inks.lost_pairs(inks.INKS, dim=False), *inks.lost_pairs(inks.INKS, dim=True)] == []


def test_a_pair_that_loses_its_contrast_is_named() -> None:
    faint = [ink._replace(light="#d8cda9") if ink.name == "muted" else ink for ink in inks.INKS]
    lost = set(inks.lost_pairs(faint, dim=False))
    assert lost == {("muted", ground) for ground in ("paper", "tile", "sunk")}
    assert list(inks.lost_pairs(faint, dim=True)) == []


def rows(code: str, width: int) -> list[list[str]]:
    """Return the rows of a table of inks in the manual, which has so many columns."""
    lines = MANUAL[code].read_text(encoding="utf-8").splitlines()
    cells = [line.strip("| ").replace("`", "").split(" | ") for line in lines if line.startswith("| `")]
    return [row for row in cells if len(row) == width]


@pytest.mark.parametrize("code", MANUAL)
def test_the_manual_has_every_ink_with_its_colours_and_role(code: str) -> None:
    expected = [[ink.name, ink.light, ink.dim, ink.role] for ink in inks.INKS]
    written = rows(code, 4)
    assert [row[:3] for row in written] == [row[:3] for row in expected]
    assert code != "en" or written == expected
    assert len({row[3] for row in written}) == len(inks.INKS)


@pytest.mark.parametrize("code", MANUAL)
def test_the_manual_has_the_contrast_of_every_pair(code: str) -> None:
    colours = {ink.name: (ink.light, ink.dim) for ink in inks.INKS}
    assert rows(code, 5) == [
        [text, ground, str(least)]
        + [
            f"{inks.contrast(one, other):.1f}"
            for one, other in zip(colours[text], colours[ground], strict=True)
        ]
        for text, ground, least in inks.PAIRS
    ]


@pytest.mark.parametrize("code", MANUAL)
def test_the_manual_has_the_sizes_of_type_and_the_spaces_of_the_style_sheets(code: str) -> None:
    tokens = next(path for path in STYLES if path.name == "tokens.css").read_text(encoding="utf-8")
    page = MANUAL[code].read_text(encoding="utf-8")
    for name in (r"t\d+", r"s\d"):
        sizes = [round(float(rem) * 16) for rem in re.findall(rf"--{name}: ([\d.]+)rem;", tokens)]
        assert len(sizes) > 5
        assert f": {', '.join(map(str, sizes))}." in page


@pytest.mark.parametrize(("accent", "dim", "keeps"), [
    ("#24512f", False, True),
    ("#a9cf8d", False, False),
    ("#a9cf8d", True, True),
    ("#24512f", True, False),
    ("#808080", False, False),
])  # fmt: skip
def test_an_accent_keeps_its_contrast_or_not(accent: str, dim: bool, keeps: bool) -> None:
    assert inks.keeps_contrast(accent, dim=dim) is keeps


@settings(deadline=None)
@given(COLOURS, st.booleans())
def test_the_nearest_of_any_colour_keeps_its_contrast(accent: str, dim: bool) -> None:
    assert inks.keeps_contrast(inks.nearest(accent, dim=dim), dim=dim)


@settings(deadline=None)
@given(COLOURS)
def test_the_nearest_of_a_colour_that_keeps_its_contrast_is_itself(accent: str) -> None:
    for dim in (False, True):
        if inks.keeps_contrast(accent, dim=dim):
            assert inks.nearest(accent, dim=dim) == accent


def test_the_nearest_of_a_pale_green_is_a_dark_green() -> None:
    green = inks.nearest("#a9cf8d", dim=False)
    assert int(green[3:5], 16) > max(int(green[1:3], 16), int(green[5:7], 16))


def test_a_houses_accent_reaches_its_bands_and_actions() -> None:
    own = {ink.name: ink for ink in inks.house_inks("#0d3b66", "#84c4ee")}
    assert own["act"].light == own["field"].light == own["on-juice"].light == "#0d3b66"
    assert own["act"].dim == "#84c4ee"
    assert own["st-stop"] == next(ink for ink in inks.INKS if ink.name == "st-stop")


def test_the_style_sheet_gives_every_ink_in_light_and_in_the_dim_room() -> None:
    sheet = inks.stylesheet(inks.INKS)
    light, auto, dim = sheet.splitlines()
    for ink in inks.INKS:
        assert f"--{ink.name}:{ink.light};" in light
        assert f"--{ink.name}:{ink.dim};" in auto
        assert f"--{ink.name}:{ink.dim};" in dim
    assert "prefers-color-scheme:dark" in auto
    assert '[data-theme="dim"]' in dim


@pytest.mark.parametrize("path", STYLES, ids=lambda path: path.name)
def test_style_sheets_name_inks_and_sizes_that_there_are(path: Path) -> None:
    every = "".join(style.read_text(encoding="utf-8") for style in STYLES)
    set_somewhere = {ink.name for ink in inks.INKS} | set(re.findall(r"--([a-z0-9-]+):", every))
    assert set(re.findall(r"var\(--([a-z0-9-]+)\)", path.read_text(encoding="utf-8"))) <= set_somewhere
