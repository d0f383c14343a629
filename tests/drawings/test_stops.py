"""Each stop is drawn, with its people and as many glasses as the flight has; so is a house's own stop."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.drawings.outdoors import plain_building
from kiosk.drawings.people import person
from kiosk.drawings.stops import DRAWN, draw_stop, shapes_of
from tests.drawings.reading import SVG, parse

SHIPPED = Path(__file__).resolve().parents[2] / "content" / "stops"


def test_every_stop_that_ships_is_drawn() -> None:
    assert {folder.name for folder in SHIPPED.iterdir() if folder.is_dir()} == set(DRAWN)


def test_no_two_stops_look_alike() -> None:
    assert len({shapes_of(slug) for slug in DRAWN}) == len(DRAWN)


def test_a_stop_of_a_houses_own_is_a_plain_building() -> None:
    assert shapes_of("our-garden") == plain_building()
    assert plain_building() not in {shapes_of(slug) for slug in DRAWN}


@pytest.mark.parametrize("slug", [slug for slug in DRAWN if slug != "still-house"])
def test_people_are_at_work_or_on_a_visit(slug: str) -> None:
    groups = [g for g in parse(draw_stop(slug)).iter(f"{SVG}g") if "scale" in g.attrib.get("transform", "")]
    assert groups
    assert all(g.find(f"{SVG}circle") is not None for g in groups), "each has a head"


@pytest.mark.parametrize("glasses", [1, 3, 5, 8, 10])
def test_the_table_has_as_many_glasses_as_the_flight(glasses: int) -> None:
    without = shapes_of("tasting-room", glasses=1).count("<path") - 2
    assert shapes_of("tasting-room", glasses=glasses).count("<path") - without == 2 * glasses


@pytest.mark.parametrize("glasses", [0, 11])
def test_a_table_that_cannot_hold_the_glasses_is_refused(glasses: int) -> None:
    with pytest.raises(ValueError, match=str(glasses)):
        shapes_of("tasting-room", glasses=glasses)


@pytest.mark.parametrize("pose", ["stand", "point", "wave", "hold", "cut", "rest"])
@pytest.mark.parametrize("head", ["hat", "hair", "bun"])
def test_a_person_has_a_head_and_the_arms_of_the_pose(pose: str, head: str) -> None:
    drawn = person(0, 0, 100, pose, head=head)
    assert drawn.count("<circle") == 1
    assert (
        len(
            {
                person(0, 0, 100, other, head=head)
                for other in ("stand", "point", "wave", "hold", "cut", "rest")
            }
        )
        == 6
    )
    assert 'transform="scale(-1 1)"' in person(0, 0, 100, pose, head=head, left=True)
