"""Parts that carry a value: the value is what is drawn."""

from __future__ import annotations

import pytest

from kiosk.drawings.icons import icon
from kiosk.drawings.parts import (
    HouseBottle,
    balance_bar,
    bottle_level,
    cask_head,
    limit_stalk,
    place_dots,
    seat_dots,
    stalk_gauge,
    stamp,
)
from tests.drawings.reading import SVG, classes, parse, shapes


def of(drawing: str, kind: str) -> int:
    return sum(kind in element.attrib.get("class", "").split() for element in parse(drawing).iter())


@pytest.mark.parametrize(("filled", "on", "off"), [(0, 0, 6), (2, 2, 4), (2.5, 3, 4), (6, 6, 0)])
def test_a_stalk_fills_its_internodes(filled: float, on: int, off: int) -> None:
    drawn = stalk_gauge(6, filled)
    whole = [e for e in parse(drawn).iter() if e.attrib.get("class", "").startswith("internode")]
    assert sum("on" in e.attrib["class"].split() for e in whole) == on
    assert sum("on" not in e.attrib["class"].split() for e in whole) == off
    assert (of(drawn, "cap"), of(drawn, "tip")) == ((1, 0) if filled == 6 else (0, 1))


def test_unequal_internodes_are_as_long_as_their_measures() -> None:
    drawn = stalk_gauge([1, 0.5, 2], 0, width=129)
    lengths = [max(x for x, _ in one) - min(x for x, _ in one) for one in shapes(drawn, "internode")]
    assert [length + 3.2 for length in lengths] == pytest.approx([120 / 3.5, 60 / 3.5, 240 / 3.5], abs=0.2)


def test_a_cap_can_stand_before_the_last_internode_and_an_empty_stalk_is_refused() -> None:
    assert of(stalk_gauge(6, 4, capped=True), "cap") == 1
    with pytest.raises(ValueError, match="internodes"):
        stalk_gauge([], 0)
    with pytest.raises(ValueError, match="internodes"):
        stalk_gauge([1, 0], 0)


@pytest.mark.parametrize(
    ("limit", "unit", "served", "lengths", "filled_width"),
    [
        (1.5, 0.25, 0.5, [1, 1, 1, 1, 1, 1], 2),
        (2.0, 0.75, 0.75, [1, 1, 2 / 3], 1),
        (2.0, 0.75, 1.75, [1, 1, 2 / 3], 1.75 / 0.75),
        (2.0, 0.75, 3.0, [1, 1, 2 / 3], 2 / 0.75),
        (0.6, 1, 0.3, [0.6], 0.3),
    ],
)
def test_a_limit_that_is_no_multiple_of_its_unit_ends_in_a_shorter_internode(
    limit: float, unit: float, served: float, lengths: list[float], filled_width: float
) -> None:
    """Each internode is as long as its part of the limit, and so is what is filled."""
    drawn = limit_stalk(limit, unit, served, width=609)
    scale = 600 / sum(lengths)
    spans = {
        kind: [(min(x for x, _ in one), max(x for x, _ in one)) for one in shapes(drawn, kind)]
        for kind in ("internode", "internode on")
    }
    ends: dict[float, float] = {}
    for left, right in spans["internode"] + spans["internode on"]:
        ends[left] = max(right, ends.get(left, 0))
    drawn_lengths = [ends[left] - left + 3.2 for left in sorted(ends)]
    assert drawn_lengths == pytest.approx([length * scale for length in lengths], abs=0.5)
    filled = sum(right - left + 3.2 for left, right in spans["internode on"])
    assert filled == pytest.approx(filled_width * scale, abs=3.5)
    assert of(drawn, "cap") == (served >= limit)


def test_a_limit_of_nothing_has_no_stalk() -> None:
    with pytest.raises(ValueError, match="internodes"):
        limit_stalk(0, 1, 0)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.75, 0.9, 1.0])
def test_a_bottle_holds_its_share_below_the_level(share: float) -> None:
    """Second reckoning: Simpson's rule over the glass from foot to level, against the whole."""
    glass = HouseBottle()

    def volume(top: float, steps: int = 2000) -> float:
        h = top / steps
        terms = [
            glass.half_at(i * h) ** 2 * (1 if i in (0, steps) else 4 if i % 2 else 2)
            for i in range(steps + 1)
        ]
        return sum(terms) * h / 3

    assert volume(glass.level(share)) / volume(glass.FULL) == pytest.approx(share, abs=2e-3)


def test_the_level_is_drawn_at_its_height() -> None:
    glass = HouseBottle()
    drawn = bottle_level(0.5, "aged")
    top = min(y for _, y in shapes(drawn, "fill aged")[0])
    assert top == pytest.approx(123 - glass.level(0.5) * 120, abs=0.1)


def test_tints_marks_and_the_unknown_are_drawn_apart() -> None:
    assert "hatch" in classes(bottle_level(0.5, "fruit"))
    assert "hatch" not in classes(bottle_level(0.5, "clear"))
    assert {"expected", "surface"} <= classes(bottle_level(0.5, "clear", expected=0.6))
    unknown = classes(bottle_level(None, "aged"))
    assert "unknown" in unknown
    assert not {"fill", "surface"} & unknown


def test_a_hatch_stays_inside_the_glass_and_the_fill() -> None:
    glass = HouseBottle()
    top = 123 - glass.level(0.8) * 120
    for x, y in shapes(bottle_level(0.8, "fruit"), "hatch")[0]:
        assert y >= top - 0.1
        assert abs(x - 26) <= glass.half_at((123 - y) / 120) + 0.1


@pytest.mark.parametrize(("short", "at"), [(0, 58), (3, 49), (-6, 76)])
def test_a_difference_within_the_tolerance_stands_inside_its_bracket(short: float, at: float) -> None:
    """The bracket reaches from 40 to 76; what is short stands left of the middle."""
    (diamond,) = shapes(balance_bar(short, 6), "here")
    assert (min(x for x, _ in diamond) + max(x for x, _ in diamond)) / 2 == pytest.approx(at)
    bracket = [x for one in shapes(balance_bar(short, 6), "bracket") for x, _ in one]
    assert (min(bracket), max(bracket)) == (40, 76)


def test_a_difference_beyond_the_tolerance_is_an_arrow_that_points_out() -> None:
    for short, way in ((9, -1), (900, -1), (-9, 1), (-900, 1)):
        (arrow,) = shapes(balance_bar(short, 6), "here")
        xs = [x for x, _ in arrow]
        tip, back = arrow[0][0], max(xs) if way < 0 else min(xs)
        assert (back - tip) * way < 0
        assert min(xs) >= 0
        assert max(xs) <= 116
    assert "here" not in classes(balance_bar(None, 6))


def test_the_shape_of_a_stamp_is_its_state() -> None:
    drawn = {
        shape: stamp("17", shape)
        for shape in ("round", "broken", "kite", "drop", "square", "octagon", "free")
    }
    outlines = {str([e.attrib.get("d") for e in parse(one).iter(f"{SVG}path")]) for one in drawn.values()}
    assert len(outlines) >= 5
    assert all([t.text for t in parse(one).iter(f"{SVG}text")] == ["17"] for one in drawn.values())
    with pytest.raises(KeyError):
        stamp("17", "cross")  # type: ignore[arg-type]


@pytest.mark.parametrize("figure", ["8", "180", "71.3", "12,345", "1,234,567"])
def test_a_long_figure_is_set_smaller(figure: str) -> None:
    size = float(next(parse(cask_head(figure)).iter(f"{SVG}text")).attrib["font-size"])
    assert size * 0.62 * len(figure) <= 190


def test_dots_count_samples_and_places() -> None:
    drawn = seat_dots(["had", "had", "now", "next", "skipped"])
    assert [of(drawn, kind) for kind in ("had", "now", "next", "skipped", "behind")] == [2, 1, 1, 1, 0]
    some, full = place_dots(4, 6, 12), place_dots(13, 13, 12)
    assert (of(some, "had"), of(some, "booked"), of(some, "free"), of(some, "over")) == (4, 2, 6, 0)
    assert (of(full, "had"), of(full, "free"), of(full, "over")) == (12, 0, 1)


def test_an_unknown_icon_is_refused() -> None:
    with pytest.raises(KeyError):
        icon("unicorn")
