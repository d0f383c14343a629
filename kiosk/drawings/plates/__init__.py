"""Plates explain how a stop works: a section with lettered parts, and an instrument at its live value."""

from collections.abc import Mapping
from typing import Final

from markupsafe import Markup

from kiosk.drawings.plates import keeping, land, making
from kiosk.drawings.plates.kit import Plate, text_twin, write_plate

PLATES: Final[Mapping[str, Plate]] = {**land.PLATES, **making.PLATES, **keeping.PLATES}


def draw_plate(slug: str, names: Mapping[str, str], label: str) -> Markup:
    """Return the plate of a stop; `names` has the name of each lettered part.

    Raises KeyError for a stop without a plate, or a part without a name.
    """
    return write_plate(PLATES[slug], names, label)


def plate_parts(slug: str, names: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return the text twin of a stop's plate: letter, key and name of each part.

    Raises KeyError for a stop without a plate, or a part without a name.
    """
    return text_twin(PLATES[slug], names)
