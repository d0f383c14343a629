"""Plates have lettered parts with names; instruments' marks stand where a second reckoning puts them."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from kiosk.drawings.levels import (
    circle_height,
    circle_share,
    density_of_abv,
    revolved_height,
    stem_place,
    top_of_scale,
)
from kiosk.drawings.plates import PLATES, draw_plate, plate_parts
from kiosk.drawings.plates.instruments import cane_staff, gravity_float, juice_tank, load_dial, parrot
from kiosk.drawings.plates.vessels import bottle_fill, cask_cut, glass_drinks, rod_lines, route_map
from kiosk.drawings.stops import DRAWN
from tests.drawings.every import INSTRUMENTS, NAMES
from tests.drawings.reading import SVG, parse, shapes


def test_every_stop_has_a_plate_with_lettered_parts() -> None:
    assert set(PLATES) == set(DRAWN)
    for slug, plate in PLATES.items():
        assert 4 <= len(plate.parts) <= 8, slug
        assert len({part.key for part in plate.parts}) == len(plate.parts), slug


@pytest.mark.parametrize("slug", PLATES)
def test_letters_stand_clear_of_each_other_and_inside(slug: str) -> None:
    places = [part.letter for part in PLATES[slug].parts]
    for i, (x, y) in enumerate(places):
        assert 0.5 <= x <= 359.5
        assert -3.5 <= y <= 233.5
        assert all(math.dist((x, y), other) > 26 for other in places[i + 1 :])


@pytest.mark.parametrize("slug", PLATES)
def test_a_plate_names_its_parts_for_those_who_hear_it(slug: str) -> None:
    twin = plate_parts(slug, NAMES)
    label = parse(draw_plate(slug, NAMES, "Plate")).attrib["aria-label"]
    assert label == "Plate. " + "; ".join(f"{letter} {name}" for letter, _, name in twin)
    letters = [
        t.text
        for t in parse(draw_plate(slug, NAMES, "x")).iter(f"{SVG}text")
        if t.attrib["class"] == "letter-text"
    ]
    assert letters == [letter for letter, _, _ in twin] == list("ABCDEFGH"[: len(twin)])


def test_a_part_without_a_name_is_refused() -> None:
    with pytest.raises(KeyError):
        draw_plate("still-house", {"parrot": "parrot"}, "x")


@pytest.mark.parametrize("height", [0.0, 0.1, 0.25, 0.5, 0.8, 1.0])
def test_a_circles_share_agrees_with_a_sum_of_strips(height: float) -> None:
    steps = 20_000
    strips = sum(
        2 * math.sqrt(max(0.0, 0.25 - (0.5 - (i + 0.5) * height / steps) ** 2)) for i in range(steps)
    )
    assert circle_share(height) == pytest.approx(strips * height / steps / (math.pi / 4), abs=1e-5)
    assert circle_height(circle_share(height)) == pytest.approx(height, abs=1e-6)


def test_the_lines_of_a_rod_stand_closest_in_the_middle() -> None:
    heights = [0.0, *[height for _, height in rod_lines(50, 5)]]
    gaps = [b - a for a, b in pairwise(heights)]
    assert [volume for volume, _ in rod_lines(50, 5)] == [5 * i for i in range(1, 11)]
    assert gaps[0] > gaps[2] > gaps[4]
    assert gaps[-1] > gaps[-3] > gaps[5]
    assert heights[5] == pytest.approx(0.5)


def test_a_round_vessel_with_straight_walls_fills_evenly_and_a_cone_by_the_cube_root() -> None:
    assert revolved_height(0.3, lambda _up: 1.0, 1.0) == pytest.approx(0.3, abs=1e-3)
    assert revolved_height(0.3, lambda up: up, 1.0) == pytest.approx(0.3 ** (1 / 3), abs=2e-3)


def test_a_float_displaces_its_own_mass_at_every_mark() -> None:
    """Second reckoning by Archimedes: bulb and stem under the surface, times density, is the same mass."""
    light, heavy, stem = density_of_abv(90), density_of_abv(60), 1.0
    bulb = stem * light / (heavy - light)  # so that both end marks displace the same mass
    for abv in (60.0, 66.5, 71.3, 80.0, 90.0):
        density = density_of_abv(abv)
        under = bulb + stem * (1 - stem_place(density, light, heavy))
        assert under * density == pytest.approx(bulb * heavy, rel=1e-9)


def surface_of_scale(drawing: str) -> list[float]:
    """Return the heights of the long marks of a float's stem, in the order of its numbers."""
    texts = [t for t in parse(drawing).iter(f"{SVG}text") if "end" in t.attrib["class"].split()]
    return [(int(t.text or ""), float(t.attrib["y"]) - 4) for t in texts]  # type: ignore[misc]


def test_the_parrots_float_stands_at_its_strength() -> None:
    marks = dict(surface_of_scale(parrot(70.0, "70")))  # type: ignore[arg-type]
    assert marks[70] == pytest.approx(112, abs=0.1)
    assert marks[60] > marks[70] > marks[80]


def test_a_heavier_wash_lifts_its_float() -> None:
    fresh, spent = (
        dict(surface_of_scale(gravity_float(1.060, ""))),
        dict(surface_of_scale(gravity_float(1.000, ""))),
    )  # type: ignore[arg-type]
    assert fresh[60] == pytest.approx(112, abs=0.1)
    assert spent[0] == pytest.approx(112, abs=0.1)
    assert fresh[0] < spent[0]


def test_the_casks_level_is_the_chord_of_its_volume() -> None:
    drawn = shapes(cask_cut(20, 50, 5, "20"), "c")[0]
    left, right = drawn[0], drawn[-1]
    inner, middle = 94 * 0.84, 172
    assert left[1] == right[1] == pytest.approx(middle + inner - 2 * inner * circle_height(0.4), abs=0.1)
    assert right[0] - left[0] == pytest.approx(2 * math.sqrt(inner**2 - (left[1] - middle) ** 2), abs=0.2)
    with pytest.raises(ValueError, match="60"):
        cask_cut(60, 50, 5)


def area(points: list[tuple[float, float]]) -> float:
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise([*points, points[0]]))) / 2


@pytest.mark.parametrize("volume", [5.0, 25.0, 45.0])
def test_the_area_of_the_drawn_spirit_is_its_share_of_the_circle(volume: float) -> None:
    drawn = next(
        e.attrib["d"] for e in parse(cask_cut(volume, 50, 5)).iter(f"{SVG}path") if e.attrib["class"] == "c"
    )
    from kiosk.paper.vectors import absolute

    outline: list[tuple[float, float]] = []
    for command, v in absolute(drawn):
        if command == "C":
            x0, y0 = outline[-1]
            for i in range(1, 21):
                t = i / 20
                k = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
                outline.append(
                    (
                        k[0] * x0 + k[1] * v[0] + k[2] * v[2] + k[3] * v[4],
                        k[0] * y0 + k[1] * v[1] + k[2] * v[3] + k[3] * v[5],
                    )
                )
        elif v:
            outline.append((v[0], v[1]))
    assert area(outline) / (math.pi * (94 * 0.84) ** 2) == pytest.approx(volume / 50, abs=3e-3)


def test_the_dials_hand_points_at_the_load() -> None:
    tail, tip = shapes(load_dial(1000, 2000, "1,000"), "lc w5 r")[0]
    assert top_of_scale(1000, 2000) == 2000
    assert tip[0] == pytest.approx(128, abs=0.1), "half the scale is straight up"
    assert tip[1] < tail[1]
    tail, tip = shapes(load_dial(2000, 2000, "2,000"), "lc w5 r")[0]
    assert math.degrees(math.atan2(tip[1] - 140, tip[0] - 128)) == pytest.approx(45, abs=0.5)


@pytest.mark.parametrize(
    ("value", "usual", "top"),
    [(0, 3, 3), (3.4, 3, 4), (540, 500, 600), (2000, 2000, 2000), (0.02, 0.01, 0.02)],
)
def test_a_scale_ends_with_a_round_number_above_the_value(value: float, usual: float, top: float) -> None:
    assert top_of_scale(value, usual) == pytest.approx(top)


def test_tank_and_staff_stand_at_their_value() -> None:
    juice = shapes(juice_tank(300, 600, "1 t", "300"), "c")[0]
    assert min(y for _, y in juice) == pytest.approx(268 - 75, abs=0.1)
    mark = shapes(cane_staff(1.5, 3, "1.5"), "lead")[0]
    assert mark[0][1] == pytest.approx(268 - 118, abs=0.1)


def test_what_went_into_a_bottle_is_parted_by_volume() -> None:
    drawn = bottle_fill(0.62, "62%", "38%")
    parting = min(y for _, y in shapes(drawn, "c")[0])
    assert parting == max(y for _, y in shapes(drawn, "t")[0])
    assert shapes(bottle_fill(1.0, "100%"), "t") == []
    with pytest.raises(ValueError, match=r"1\.2"):
        bottle_fill(1.2)


@pytest.mark.parametrize(("drinks", "rings"), [(0.4, 1), (1.0, 1), (1.6, 2), (3.2, 4)])
def test_a_ring_fills_for_each_standard_drink(drinks: float, rings: int) -> None:
    drawn = parse(glass_drinks(0.1, drinks, "x"))
    assert sum(c.attrib["r"] == "18" for c in drawn.iter(f"{SVG}circle")) == rings


def test_groups_stand_at_their_stop_or_on_the_way() -> None:
    stops = [str(i + 1) for i in range(10)]
    flags = shapes(route_map(stops, [(1, "A"), (2.5, "B")]), "a y")
    assert [flag[0][0] for flag in flags] == [126, 255]
    with pytest.raises(ValueError, match="A"):
        route_map(stops, [(9.5, "A")])


@pytest.mark.parametrize("name", [name for name in INSTRUMENTS if "resting" in name])
def test_what_is_not_known_has_dashes_and_no_figure(name: str) -> None:
    drawn = parse(INSTRUMENTS[name])
    assert any("d" in e.attrib.get("class", "").split() for e in drawn.iter())
    assert not [e for e in drawn.iter() if e.attrib.get("class") in ("lead", "c")]
    assert not [t for t in drawn.iter(f"{SVG}text") if "num" in t.attrib["class"].split()]
