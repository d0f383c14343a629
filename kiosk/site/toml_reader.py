"""Reads tables of TOML by declared settings and notes every fault with its line.

A `Setting` says what it is called, how its value is read, what may stand there
and what it is for. `read_table` reads a TOML table by a tuple of settings and
notes every fault with file, line, key, what was found and what is allowed.
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
    """Return the line (from 1) where `path` stands, else that of the nearest table above it.

    None when nothing of the path is written anywhere, so that it cannot be shown.
    """
    if not source or not path:
        return None
    lines = _lines(source)
    for length in range(len(path), 0, -1):
        found = lines.get(path[:length])
        if found is not None:
            return found
    return None


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
    """Return the path of a header: a name that opened a list of tables means its last one."""
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
    """A value may not stand where it was found."""


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a TOML file, and the list that its faults go to."""

    file: str
    source: str
    faults: list[Fault]
    path: tuple[Key, ...] = ()

    def at(self, *keys: Key) -> Where:
        """Return a place deeper in the same file."""
        return replace(self, path=(*self.path, *keys))

    def note(self, found: object, allowed: str, **facts: object) -> None:
        """Note what was found at this place and what may stand there."""
        self._add(as_written(found), allowed, facts)

    def missing(self, allowed: str, **facts: object) -> None:
        """Note that nothing stands at this place."""
        self._add(MISSING, allowed, facts)

    def _add(self, found: str, allowed: str, facts: Mapping[str, object]) -> None:
        line = line_of(self.source, self.path)
        key = dotted(self.path) or self.file.rpartition("/")[2]
        self.faults.append(Fault(self.file, line, key, found, allowed, facts))


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: name, reading (raises Refused), what is allowed, meaning, default.

    `table` holds the settings of a table below, `many` says that there is a
    list of such tables; what was read of a table is a mapping by name.
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
    """Read a TOML file; a missing or broken one is a fault and an empty table."""
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
    """Read a table by its settings; None when a fault was noted in it."""
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
        if setting.default is REQUIRED:
            where.missing(setting.allowed, **setting.facts)
        return None if setting.default is REQUIRED else setting.default
    value = table[setting.name]
    if setting.table:
        return _read_below(value, setting, where)
    try:
        return setting.read(value)
    except Refused:
        where.note("***" if setting.hidden else value, setting.allowed, **setting.facts)
        return None


def _read_below(value: Any, setting: Setting, where: Where) -> Any:
    if not setting.many:
        return read_table(value, setting.table, where)
    if not isinstance(value, list) or (not value and setting.default is REQUIRED):
        where.note(value, setting.allowed, **setting.facts)
        return None
    return [read_table(entry, setting.table, where.at(n)) for n, entry in enumerate(value)]


def dotted(path: tuple[Key, ...]) -> str:
    """Name a place as a licensee would: `route[2].minutes`, counting from 1."""
    text = ""
    for key in path:
        text += f"[{key + 1}]" if isinstance(key, int) else f".{key}" if text else key
    return text


def as_written(value: object) -> str:
    """Write a found value as it stood in TOML, near enough to be recognised."""
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
