"""Every drawing is sound XML without style or id, has only classes that the sheet paints, and is not cut."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest

import kiosk.web
from kiosk.drawings import ink
from kiosk.drawings.plates import PLATES
from tests.drawings.every import EVERY, INSTRUMENTS, STOPS
from tests.drawings.reading import SVG, classes, faults, parse, points

SHEET = (Path(kiosk.web.__file__).parent / "static" / "css" / "drawings.css").read_text()
# Groups of a page and words without a paint of their own.
UNPAINTED = {
    "frieze", "stop-drawing", "lit",
    "round", "kite", "drop", "octagon", "square", "broken", "free",
    "parrot", "two-floats", "gravity", "dial", "cane-staff", "juice-tank", "cask-cut", "route", "bottle-fill",
    "fill", "glass", "gauge", "dot", "unit", "word",
}  # fmt: skip
PLATE_BYTES = 12_000


@pytest.mark.parametrize("name", EVERY)
def test_a_drawing_has_no_style_no_colour_and_no_id(name: str) -> None:
    assert faults(EVERY[name]) == []


@pytest.mark.parametrize("name", EVERY)
def test_the_sheet_paints_every_class(name: str) -> None:
    painted = set(re.findall(r"\.([a-z][a-z0-9-]*)", SHEET))
    assert classes(EVERY[name]) - painted - UNPAINTED == set()


def test_the_sheet_repeats_the_widths_of_lines() -> None:
    for name, width in {**ink.WIDTHS, **ink.TUBES}.items():
        rule = re.search(rf"\.drawing \.{name} {{[^}}]*stroke-width: ([\d.]+);", SHEET)
        assert rule, name
        assert float(rule[1]) == width, name
    assert f".h {{ stroke: var(--p); stroke-width: {ink.RIM};" in SHEET


def test_the_sheet_sets_each_ink_on_each_ground() -> None:
    for ground in (".drawing {", ".drawing.on-juice {", ".drawing.on-field {", ".drawing.one-ink {"):
        block = SHEET[SHEET.index(ground) :].split("}")[0]
        kept = "c" if ground == ".drawing.on-juice {" else ""  # clay is the same on paper and on juice
        assert {f"--{letter}:" for letter in ink.INKS if letter != kept} <= set(
            re.findall(r"--[a-z]+:", block)
        ), ground


@pytest.mark.parametrize("name", [name for name in EVERY if not name.startswith("frieze")])
def test_no_shape_is_cut_by_the_view_box(name: str) -> None:
    """Control points of curves may stand out a little; the ground and the hills may end outside."""
    x, y, width, height = (float(v) for v in parse(EVERY[name]).attrib["viewBox"].split())
    air = max(4.0, 0.06 * width)
    out = [
        (kind, round(px), round(py))
        for kind, px, py in points(EVERY[name])
        if not (x - air <= px <= x + width + air and y - air <= py <= y + height + air)
    ]
    assert [one for one in out if one[0] != "s"] == []


@pytest.mark.parametrize("name", STOPS)
def test_a_stop_stands_on_the_ground(name: str) -> None:
    feet = [y for kind, _, y in points(EVERY[name]) if kind != "s"]
    assert max(feet) == pytest.approx(240, abs=1.5)
    assert min(feet) < 110


@pytest.mark.parametrize("name", EVERY)
def test_a_drawing_without_a_label_is_hidden_and_one_with_it_is_an_image(name: str) -> None:
    root = parse(EVERY[name]).attrib
    if "aria-label" in root:
        assert root["role"] == "img"
    else:
        assert root["aria-hidden"] == "true"
        assert "role" not in root


@pytest.mark.parametrize("slug", PLATES)
def test_a_plate_with_its_instrument_is_light(slug: str) -> None:
    heaviest = max(len(gzip.compress(one.encode())) for one in INSTRUMENTS.values())
    assert len(gzip.compress(EVERY[f"plate {slug}"].encode())) + heaviest <= PLATE_BYTES


def test_no_flame_is_drawn_where_there_is_vapour() -> None:
    """Doors of the stills are shut and the laboratory heats with a mantle: no shape is named a fire."""
    for name in ("still-house", "laboratory", "cask-store", "fermentation", "bottling"):
        for key in (name, f"plate {name}"):
            assert not {"fire", "flame", "lamp"} & classes(EVERY[key])
    assert all(element.tag != f"{SVG}image" for element in parse(EVERY["still-house"]).iter())
