"""Drawings of the stops, each in a cell of 240 by 240 on the same ground line, by the stop's slug."""

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Final

from markupsafe import Markup

from kiosk.drawings import keeping, making, outdoors
from kiosk.drawings.ink import rectangle, svg

CELL: Final = 240
GROUND: Final = outdoors.GROUND
# Leaves, roofs and smoke reach out of a cell by so much.
MARGIN: Final = 28

DRAWN: Final[Mapping[str, Callable[[], str]]] = {
    "welcome-house": outdoors.welcome_house,
    "cane-field": outdoors.cane_field,
    "harvest-yard": outdoors.harvest_yard,
    "mill": making.mill,
    "fermentation": making.fermentation,
    "still-house": making.still_house,
    "cask-store": keeping.cask_store,
    "bottling": keeping.bottling,
    "laboratory": keeping.laboratory,
    "tasting-room": keeping.tasting_room,
}


def shapes_of(slug: str, *, glasses: int = 5) -> str:
    """Return the shapes of a stop's drawing; a stop that no drawing knows gets a plain building."""
    if slug == "tasting-room":
        return keeping.tasting_room(glasses)
    return DRAWN.get(slug, outdoors.plain_building)()


@lru_cache(maxsize=128)
def draw_stop(slug: str, label: str = "", *, kind: str = "", glasses: int = 5) -> Markup:
    """Return one stop on its piece of ground; without a label it is hidden from a screen reader.

    `kind` is a class of the ground that the drawing stands on, as `on-juice`, or the page's own.
    """
    ground = rectangle("s", -400, GROUND, 1040, 20)
    view = (-12, -24, CELL + 24, CELL + 36)
    return svg(
        view, shapes_of(slug, glasses=glasses) + ground, kind=f"stop-drawing {kind}".strip(), label=label
    )
