"""The frieze: order, the lit stop, the line of juice, a window of it, and the walk of the wall."""

from __future__ import annotations

import pytest

from kiosk.drawings.frieze import frieze, wall_view, wall_walk
from kiosk.drawings.stops import CELL, shapes_of
from tests.drawings.reading import SVG, parse, points

WALK = ["welcome-house", "mill", "still-house", "our-garden", "tasting-room"]


def states(drawing: str) -> list[str]:
    return [g.attrib["class"] for g in parse(drawing) if g.tag == f"{SVG}g" and "class" in g.attrib]


def test_only_the_current_stop_is_lit_and_it_is_drawn_last() -> None:
    assert states(frieze(WALK, "mill")) == ["dimmed"] * 4 + ["lit"]
    assert states(frieze(WALK)) == ["lit"] * 5


def test_the_juice_runs_to_the_middle_of_the_current_stop() -> None:
    ends = [x for kind, x, _ in points(frieze(WALK, "still-house")) if kind == "juice-line"]
    assert max(ends) == 2.5 * CELL
    assert not [kind for kind, _, _ in points(frieze(WALK)) if kind == "juice-line"]


def test_a_window_leaves_out_what_is_not_seen() -> None:
    part = frieze(WALK, "still-house", window=(2 * CELL - 60, 360))
    assert parse(part).attrib["viewBox"].split()[:3] == ["420", "-34", "360"]
    assert shapes_of("welcome-house") not in part
    assert shapes_of("still-house") in part


def test_numbers_stand_below_the_stops_and_the_current_is_marked() -> None:
    drawn = parse(frieze(WALK, "mill", numbers=True)).iter(f"{SVG}text")
    assert [(t.text, "lit" in t.attrib["class"]) for t in drawn] == [(str(i + 1), i == 1) for i in range(5)]


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        (-1, ["away"] * 5),
        (0, ["lit", "dimmed", "away", "away", "away"]),
        (4, ["away", "away", "away", "away", "lit"]),
    ],
)
def test_a_wall_has_every_stop_once_and_shows_one_and_the_next(at: int, expected: list[str]) -> None:
    drawn = wall_walk(WALK, at)
    assert states(drawn)[::-1] == expected
    assert [drawn.count(shapes_of(slug)) for slug in WALK] == [1] * 5
    assert parse(drawn).attrib["viewBox"] == wall_view(at)
    left, _, width, _ = map(float, wall_view(at).split())
    assert left <= at * CELL < (at + 1) * CELL < left + width
