from __future__ import annotations

import pytest

from kiosk.site.lines import Key, line_of

SOURCE = """\
name = "x"  # [not.a.header]
[colours]
accent = "#000000"

[[route]]
stop = "a"
[[route]]
stop = "b"
names.en = "B"

[service]
guest_age = 21
[[service.limit]]
id = "one"
[[service.limit]]
id = "two"
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("name",), 1),
        (("colours",), 2),
        (("colours", "accent"), 3),
        (("route",), 5),
        (("route", 0, "stop"), 6),
        (("route", 1), 7),
        (("route", 1, "stop"), 8),
        (("route", 1, "names", "en"), 9),
        (("service", "guest_age"), 12),
        (("service", "limit", 0, "id"), 14),
        (("service", "limit", 1, "id"), 16),
    ],
)
def test_a_key_is_found_on_its_line(path: tuple[Key, ...], line: int) -> None:
    assert line_of(SOURCE, path) == line


def test_a_missing_key_is_told_on_the_line_of_its_table() -> None:
    assert line_of(SOURCE, ("route", 1, "minutes")) == 7


def test_what_is_written_nowhere_has_no_line() -> None:
    assert line_of(SOURCE, ("languages",)) is None
    assert line_of(SOURCE, ()) is None
