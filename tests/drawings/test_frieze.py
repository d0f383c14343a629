"""The frieze: order, the lit stop, the line of juice, a window of it, and cells that fold."""

from __future__ import annotations

from kiosk.drawings.frieze import cells, frieze
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


def test_cells_hold_the_same_stops_and_carry_the_juice_on() -> None:
    drawn = cells(WALK, "still-house")
    assert [slug for slug, _ in drawn] == WALK
    assert [shapes_of(slug) in cell for slug, cell in drawn] == [True] * 5
    reach = [[x for kind, x, _ in points(cell) if kind == "juice-line"] for _, cell in drawn]
    assert [max(xs) if xs else None for xs in reach] == [CELL, CELL, CELL / 2, None, None]
    assert [states(cell)[-1] for _, cell in drawn] == ["dimmed", "dimmed", "lit", "dimmed", "dimmed"]
