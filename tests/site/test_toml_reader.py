from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.site import values
from kiosk.site.faults import Fault
from kiosk.site.toml_reader import Key, Setting, Where, as_written, dotted, line_of, read_table, read_toml

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


INNER = (Setting("n", values.whole(0, 9), "a digit", "A number."),)
SETTINGS = (
    Setting("name", values.text, "a name", "A name."),
    Setting("size", values.whole(0, 9), "a digit", "A size.", default=4),
    Setting("one", lambda value: value, "a table", "One table.", default=None, table=INNER),
    Setting("list", lambda value: value, "a list", "Many tables.", default=(), table=INNER, many=True),
)


def read(table: object) -> tuple[dict[str, object] | None, list[str]]:
    faults: list[Fault] = []
    found = read_table(table, SETTINGS, Where("x.toml", "", faults))
    return found, [fault.sentence() for fault in faults]


def test_a_table_is_read_with_its_defaults() -> None:
    assert read({"name": "a"}) == ({"name": "a", "size": 4, "one": None, "list": ()}, [])


def test_tables_below_are_read_by_their_own_settings() -> None:
    found, faults = read({"name": "a", "one": {"n": 1}, "list": [{"n": 2}, {"n": 3}]})
    assert not faults
    assert found is not None
    assert (found["one"], found["list"]) == ({"n": 1}, [{"n": 2}, {"n": 3}])


def test_every_fault_of_a_table_is_noted_at_once() -> None:
    found, faults = read({"size": 12, "one": 5, "list": [{"n": 1}, {"m": 2}], "nme": "a"})
    assert found is None
    assert faults == [
        'x.toml: nme: found "a". Allowed: only these keys: name, size, one, list.',
        "x.toml: name is missing. Needed: a name.",
        "x.toml: size: found 12. Allowed: a digit.",
        "x.toml: one: found 5. Allowed: a table with these keys: n.",
        "x.toml: list[2].m: found 2. Allowed: only these keys: n.",
        "x.toml: list[2].n is missing. Needed: a digit.",
    ]


def test_what_is_no_table_is_told() -> None:
    assert read([1])[1] == [
        "x.toml: x.toml: found [1]. Allowed: a table with these keys: name, size, one, list."
    ]


def test_a_missing_and_a_broken_file_are_faults_and_empty_tables(tmp_path: Path) -> None:
    faults: list[Fault] = []
    (tmp_path / "b.toml").write_text("a = \n", encoding="utf-8")
    (tmp_path / "c.toml").write_bytes(b"a = '\xff'")
    for name in ("a.toml", "b.toml", "c.toml"):
        assert read_toml(tmp_path / name, name, faults)[0] == {}
    sentences = [fault.sentence() for fault in faults]
    assert sentences[0] == "a.toml: a.toml is missing. Needed: a file of this name."
    assert "Invalid value (at line 1, column 5)" in sentences[1]
    assert "a TOML file in UTF-8" in sentences[2]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        ("x", '"x"'),
        ("x" * 100, '"' + "x" * 77 + '..."'),
        ([1, "a"], '[1, "a"]'),
        (list(range(9)), "[0, 1, 2, 3, 4, ...]"),
        ({"a": 1, "b": 2}, "{a, b}"),
        (1.5, "1.5"),
    ],
)
def test_a_found_value_is_told_as_it_was_written(value: object, text: str) -> None:
    assert as_written(value) == text


def test_a_place_is_named_as_people_count() -> None:
    assert dotted(("service", "limit", 1, "most")) == "service.limit[2].most"
