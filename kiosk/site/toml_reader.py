"""Reads tables of TOML by declared settings and notes every fault with its line.

A `Setting` says what it is called, how its value is read, what may stand there
and what it is for. `read_table` reads a TOML table by a tuple of settings and
notes every fault with file, line, key, what stands there and what is allowed.
`line_of` finds the line of a key, because `tomllib` keeps no lines.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from kiosk.site.faults import MISSING, Fault
from kiosk.words.catalogs import N_

Key = str | int
"""A step on the way to a value: a key's name, or the place in a list, from 0."""

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*([A-Za-z0-9_."' -]+?)\s*=""")


def line_of(source: str, path: tuple[Key, ...]) -> int | None:
    """Return the line (from 1) of the key at `path`, else of the nearest table above it, else None."""
    lines = _lines(source)
    above = (path[:length] for length in range(len(path), 0, -1))
    return next((lines[part] for part in above if part in lines), None)


def _lines(source: str) -> dict[tuple[Key, ...], int]:
    lines: dict[tuple[Key, ...], int] = {}
    counts: dict[tuple[Key, ...], int] = {}
    table: tuple[Key, ...] = ()
    for number, line in enumerate(source.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _table(header.group(1) == "[[", _names(header.group(2)), counts)
            lines.setdefault(table, number)
            lines.setdefault(table[:-1] if isinstance(table[-1], int) else table, number)
        elif (key := _KEY.match(line)) and not line.lstrip().startswith("#"):
            lines.setdefault((*table, *_names(key.group(1))), number)
    return lines


def _table(many: bool, names: tuple[str, ...], counts: dict[tuple[Key, ...], int]) -> tuple[Key, ...]:
    """Return the path of a header; a name of a list of tables stands for the last table so far."""
    path: tuple[Key, ...] = ()
    for place, name in enumerate(names):
        path = (*path, name)
        if many and place == len(names) - 1:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = (*path, counts[path] - 1)
    return path


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(name.strip().strip("\"'") for name in dotted.split("."))


REQUIRED = object()
"""`Setting.default` of a setting that must be given."""


class Refused(Exception):
    """Raised by the reader of a setting for a value that is not allowed, with facts for the message."""

    def __init__(self, **facts: object) -> None:
        super().__init__()
        self.facts = facts


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a TOML file, with the list that collects its faults."""

    file: str
    source: str
    faults: list[Fault]
    path: tuple[Key, ...] = ()

    def at(self, *keys: Key) -> Where:
        """Return a place deeper in the same file."""
        return replace(self, path=(*self.path, *keys))

    def note(self, found: object, allowed: str, **facts: object) -> None:
        """Add the fault that `found` stands at this place, with what is allowed there."""
        self._add(as_written(found), allowed, facts)

    def missing(self, allowed: str, **facts: object) -> None:
        """Add the fault that nothing stands at this place."""
        self._add(MISSING, allowed, facts)

    def _add(self, found: str, allowed: str, facts: Mapping[str, object]) -> None:
        line = line_of(self.source, self.path)
        key = dotted(self.path) or self.file.rpartition("/")[2]
        self.faults.append(Fault(self.file, line, key, found, allowed, facts))


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its name, its reader (raises Refused), what is allowed, what it is for, its default.

    With `table` the value is a table of those settings, with `many` a list of such
    tables; each is read to a mapping by name.
    """

    name: str
    read: Callable[[Any], Any]
    allowed: str
    doc: str
    default: Any = REQUIRED
    facts: Mapping[str, object] = field(default_factory=dict)
    table: tuple[Setting, ...] = ()
    many: bool = False
    hidden: bool = False  # may hold a password: a fault does not repeat it


def read_toml(path: Path, file: str, faults: list[Fault]) -> tuple[dict[str, Any], Where]:
    """Return a TOML file's table and its place; a missing or broken file is a fault and an empty table."""
    where = Where(file, "", faults)
    try:
        source = path.read_text(encoding="utf-8")
        return tomllib.loads(source), replace(where, source=source)
    except FileNotFoundError:
        where.missing(N_("a file of this name"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        where.note(f"{error}", N_("a TOML file in UTF-8"))
    return {}, where


def read_table(table: Any, settings: tuple[Setting, ...], where: Where) -> dict[str, Any] | None:
    """Return a table's values by name, read by its settings; None when it has a fault."""
    before = len(where.faults)
    if not isinstance(table, Mapping):
        where.note(table, N_("a table with these keys: {keys}"), keys=", ".join(s.name for s in settings))
        return None
    known = [setting.name for setting in settings]
    for name in table:
        if name not in known:
            where.at(name).note(table[name], N_("only these keys: {keys}"), keys=", ".join(known))
    values = {setting.name: _read(table, setting, where.at(setting.name)) for setting in settings}
    return values if len(where.faults) == before else None


def _read(table: Mapping[str, Any], setting: Setting, where: Where) -> Any:
    if setting.name not in table:
        if setting.default is not REQUIRED:
            return setting.default
        where.missing(setting.allowed, **setting.facts)
        return None
    value = table[setting.name]
    if setting.table:
        return _read_below(value, setting, where)
    try:
        return setting.read(value)
    except Refused as refused:
        facts = {**setting.facts, **refused.facts}
        where.note("***" if setting.hidden else value, setting.allowed, **facts)
        return None


def _read_below(value: Any, setting: Setting, where: Where) -> Any:
    if not setting.many:
        return read_table(value, setting.table, where)
    if not isinstance(value, list) or (not value and setting.default is REQUIRED):
        where.note(value, setting.allowed, **setting.facts)
        return None
    return [read_table(entry, setting.table, where.at(n)) for n, entry in enumerate(value)]


def dotted(path: tuple[Key, ...]) -> str:
    """Return a place as text that counts from 1: `route[2].minutes`."""
    text = ""
    for key in path:
        text += f"[{key + 1}]" if isinstance(key, int) else f".{key}" if text else key
    return text


def as_written(value: object) -> str:
    """Return a value as it is written in TOML, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 80 else f'"{value[:77]}..."'
    if isinstance(value, Mapping):
        return "{" + ", ".join(str(key) for key in value) + "}"
    if isinstance(value, list | tuple):
        return (
            "[" + ", ".join(as_written(entry) for entry in value[:5]) + ("]" if len(value) <= 5 else ", ...]")
        )
    return str(value)
