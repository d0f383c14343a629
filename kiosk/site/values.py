"""Reads single values of a settings file, and declares settings of the common kinds.

A reader returns the value as the program keeps it, or raises `Refused`.
"""

import re
from collections.abc import Callable, Collection
from datetime import time
from decimal import Decimal
from enum import StrEnum
from typing import Any

from kiosk.figures.drinks import parse_volume_ul
from kiosk.figures.errors import FigureError
from kiosk.site.toml_reader import Refused, Setting
from kiosk.words.catalogs import N_

PRICE = N_("a price above 0, such as 38 or 38.50, without the currency")
WHOLE = N_("a whole number from {low} to {high}")
VOLUME = N_('a volume such as "0.5 fl oz" or "15 mL"')
SLUG = r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*"
SLUG_ALLOWED = N_("lower case letters, digits and dashes")
TEXTS = N_("a text for each of the site's languages")
MOST_UL = 1_000_000
"""The largest volume that a setting may give, in µL: more than any glass holds."""


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


slug = matching(SLUG)
"""Read lower case letters, digits and dashes."""


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


def number(low: float, high: float) -> Callable[[Any], float]:
    """Read a number from `low` to `high`."""

    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise Refused
        return float(value)

    return read


def price(value: Any) -> Decimal:
    """Read a price above zero with at most three decimals, as it is written."""
    number(0, 10_000_000)(value)
    exact = Decimal(str(value))
    if not exact or exact != round(exact, 3):
        raise Refused
    return exact


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
    """Read a table of texts by language code; the caller checks for which languages."""
    if not isinstance(value, dict) or not value:
        raise Refused
    return {code: text(entry) for code, entry in value.items()}


def whole_number(name: str, low: int, high: int, doc: str, **given: Any) -> Setting:
    """Declare a setting that is a whole number from `low` to `high`."""
    return Setting(name, whole(low, high), WHOLE, doc, facts={"low": low, "high": high}, **given)


def true_or_false(name: str, doc: str, **given: Any) -> Setting:
    """Declare a setting that is true or false."""
    return Setting(name, flag, N_("true or false"), doc, **given)


def choice(name: str, choices: Collection[str], doc: str, **given: Any) -> Setting:
    """Declare a setting that is one of a few words."""
    how = {"read": one_of(*choices), "allowed": N_("one of {choices}"), **given}
    return Setting(name, doc=doc, facts={"choices": ", ".join(choices)}, **how)


def enum(name: str, kind: type[StrEnum], doc: str, **given: Any) -> Setting:
    """Declare a setting that is one of the values of an enumeration."""
    return choice(name, tuple(kind), doc, read=lambda value: kind(one_of(*kind)(value)), **given)


def choices_of(name: str, choices: Collection[str], doc: str, **given: Any) -> Setting:
    """Declare a setting that is a list of some of a few words."""
    facts = {"choices": ", ".join(choices)}
    return Setting(name, list_of(text, choices), N_("a list of {choices}"), doc, facts=facts, **given)


def texts(name: str, doc: str, **given: Any) -> Setting:
    """Declare a setting that is a text for each language of the site."""
    return Setting(name, by_language, TEXTS, doc, **given)


def table(name: str, allowed: str, doc: str, settings: tuple[Setting, ...], **given: Any) -> Setting:
    """Declare a setting that is a table with settings of its own."""
    return Setting(name, lambda value: value, allowed, doc, table=settings, **given)
