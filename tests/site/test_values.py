from __future__ import annotations

from collections.abc import Callable
from datetime import time
from decimal import Decimal
from typing import Any

import pytest

from kiosk.site import values
from kiosk.site.toml_reader import Refused


@pytest.mark.parametrize(
    ("read", "found", "value"),
    [
        (values.text, " x ", "x"),
        (values.whole(0, 5), 5, 5),
        (values.number(0, 5), 5, 5.0),
        (values.price, 38.5, Decimal("38.5")),
        (values.price, 45_000, Decimal(45_000)),
        (values.flag, False, False),
        (values.clock_time, "05:30", time(5, 30)),
        (values.clock_time, time(23, 59), time(23, 59)),
        (values.list_of(values.text), ["a", "b"], ("a", "b")),
        (values.by_language, {"en": " a "}, {"en": "a"}),
    ],
)
def test_a_right_value_is_read(read: Callable[[Any], Any], found: object, value: object) -> None:
    assert read(found) == value


@pytest.mark.parametrize(
    ("read", "found"),
    [
        (values.text, ""),
        (values.text, "  "),
        (values.text, 3),
        (values.matching("[a-z]+"), "a\n"),
        (values.one_of("1"), 1),
        (values.one_of("a"), ["a"]),
        (values.price, 0),
        (values.price, -1),
        (values.price, "38"),
        (values.price, 38.0001),
        (values.whole(0, 5), 6),
        (values.whole(0, 5), True),
        (values.whole(0, 5), 2.0),
        (values.number(0, 5), float("nan")),
        (values.number(0, 5), float("inf")),
        (values.number(0, 5), "2"),
        (values.flag, 1),
        (values.clock_time, "24:00"),
        (values.clock_time, "05:60"),
        (values.clock_time, "5:00"),
        (values.list_of(values.text), "ab"),
        (values.list_of(values.text), ["a", "a"]),
        (values.list_of(values.text, ("a",)), ["b"]),
        (values.by_language, {}),
        (values.by_language, "a"),
    ],
)
def test_a_wrong_value_is_refused(read: Callable[[Any], Any], found: object) -> None:
    with pytest.raises(Refused):
        read(found)
