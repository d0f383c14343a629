"""Finds the line of a key in a TOML file; the TOML reader keeps no lines."""

from __future__ import annotations

import re

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
