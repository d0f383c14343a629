"""Names that look alike are refused beside the one that is there."""

from __future__ import annotations

import pytest

from kiosk.staff.errors import Refusal
from kiosk.staff.names import require_distinct
from tests.staff.refusals import refused

ALIKE = ["teo", "TEO", "Téo", "Ｔeo", "Тео", "Τεο", "T-e.o", "Te o", "Te\u200do"]
OTHERS = ["Leo", "Teo M.", "Theo", "Teo 2"]


@pytest.mark.parametrize("name", ALIKE)
def test_a_name_that_looks_like_another_is_refused(name: str) -> None:
    with refused(Refusal.NAME_ALIKE):
        require_distinct(name, ["Ana", "Teo"])


@pytest.mark.parametrize("name", OTHERS)
def test_a_name_that_differs_in_a_letter_or_a_number_is_taken(name: str) -> None:
    require_distinct(name, ["Ana", "Teo"])


def test_numbered_devices_differ() -> None:
    require_distinct("tablet 1", ["tablet 2", "tablet 11"])


def test_the_very_same_name_is_taken_already() -> None:
    with refused(Refusal.NAME_TAKEN):
        require_distinct("Teo", ["Teo"])
