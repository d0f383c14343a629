"""How single values of a settings file are read; each raises `Refused`."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from datetime import time
from typing import Any

from kiosk.figures.drinks import parse_volume_ul
from kiosk.figures.errors import FigureError
from kiosk.site.toml_reader import Refused, Setting
from kiosk.words.catalogs import N_

WHOLE = N_("a whole number from {low} to {high}")
VOLUME = N_('a volume such as "0.5 fl oz" or "15 mL"')
MOST_UL = 1_000_000
"""More than any glass holds, in µL."""


def text(value: Any) -> str:
    """Read text that is not empty."""
    if not isinstance(value, str) or not value.strip():
        raise Refused
    return value.strip()


def matching(pattern: str) -> Callable[[Any], str]:
    """Read text of one form."""

    def read(value: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(pattern, value):
            raise Refused
        return value

    return read


def one_of(*choices: str) -> Callable[[Any], str]:
    """Read one of a few words."""

    def read(value: Any) -> str:
        if value not in choices or not isinstance(value, str):
            raise Refused
        return value

    return read


def whole(low: int, high: int) -> Callable[[Any], int]:
    """Read a whole number from `low` to `high`."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise Refused
        return value

    return read


def whole_number(name: str, low: int, high: int, doc: str, **given: Any) -> Setting:
    """Declare a setting that is a whole number from `low` to `high`."""
    return Setting(name, whole(low, high), WHOLE, doc, facts={"low": low, "high": high}, **given)


def number(low: float, high: float) -> Callable[[Any], float]:
    """Read a number from `low` to `high`."""

    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise Refused
        return float(value)

    return read


def flag(value: Any) -> bool:
    """Read true or false."""
    if not isinstance(value, bool):
        raise Refused
    return value


def clock_time(value: Any) -> time:
    """Read a time of day: 05:00:00, or "05:00" in quotes."""
    if isinstance(value, time):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-2]\d:[0-5]\d", value) and value < "24":
        return time.fromisoformat(value)
    raise Refused


def volume_ul(value: Any) -> int:
    """Read a volume that is poured, as whole µL rounded down."""
    try:
        return whole(1, MOST_UL)(parse_volume_ul(text(value), round_up=False))
    except FigureError:
        raise Refused from None


def list_of(read: Callable[[Any], Any], among: Collection[str] = ()) -> Callable[[Any], tuple[Any, ...]]:
    """Read a list without repeats, each entry by `read`, and of `among` if that is given."""

    def read_list(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise Refused
        entries = tuple(read(entry) for entry in value)
        if len(set(entries)) != len(entries) or (among and not set(entries) <= set(among)):
            raise Refused
        return entries

    return read_list


def by_language(value: Any) -> dict[str, str]:
    """Read a table of texts by language code; which languages there must be is checked by the caller."""
    if not isinstance(value, dict) or not value:
        raise Refused
    return {code: text(said) for code, said in value.items()}


def anything(value: Any) -> Any:
    """Pass a value on to a reader of its own."""
    return value
