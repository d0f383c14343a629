from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kiosk.drawings.icons import ICONS
from kiosk.site.content.stops import PROTECTION
from kiosk.site.content.symbols import PROTECTION_SIGNS, symbols
from tests.walking import Walk


@pytest.mark.parametrize(
    ("changes", "shape", "text"),
    [
        ({"phones": "at the door"}, "phone-away", "Phones stay at the door"),
        ({"phones": "yes"}, "phone", "Phones are welcome"),
        ({"protection": ("ears",)}, "ears", "Ear plugs"),
        ({"steps": 0}, "no-steps", "No steps"),
        ({"steps": 1}, "steps", "1 step"),
        ({"steps": 12}, "steps", "12 steps"),
        ({"seats": True}, "seats", "Seats for everybody"),
        ({"seats": False, "standing_minutes": 0}, "standing", "No seats"),
        ({"seats": False, "standing_minutes": 1}, "standing", "No seats: 1 minute on your feet"),
        ({"seats": False, "standing_minutes": 9}, "standing", "No seats: 9 minutes on your feet"),
        ({"noise": True}, "noise", "Loud in places"),
        ({"smell": True}, "smell", "Smells of alcohol"),
    ],
)
def test_what_holds_at_a_stop_has_a_shape_and_words(
    walk: Walk, changes: dict[str, Any], shape: str, text: str
) -> None:
    stop = replace(walk.content.stops["tasting-room"], **changes)
    assert (shape, text) in [(symbol.shape, symbol.text) for symbol in symbols(stop, walk.words["en"])]


def test_phones_come_first(walk: Walk) -> None:
    assert all(
        symbols(stop, walk.words["en"])[0].shape.startswith("phone") for stop in walk.content.stops.values()
    )


def test_every_kind_of_protection_has_words() -> None:
    assert set(PROTECTION_SIGNS) == set(PROTECTION)


def test_every_shape_is_drawn() -> None:
    shapes = {icon for icon, _ in PROTECTION_SIGNS.values()}
    shapes |= {"phone", "phone-away", "no-steps", "steps", "seats", "standing", "noise", "smell"}
    assert shapes <= set(ICONS)
