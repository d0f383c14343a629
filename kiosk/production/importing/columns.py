"""Columns of a file of records: the name in the header, the unit with it, what may stand there.

A reader takes the text of a cell and the site's zone and returns a value, or
raises `Unreadable` with the remedy.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from kiosk.production.importing.faults import Unreadable
from kiosk.words.marker import N_

Reader = Callable[[str, ZoneInfo], object]

_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,6})?", re.ASCII)
_WHOLE = re.compile(r"\d{1,9}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2}(:\d{2})?", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")

NOT_A_NUMBER = N_(
    "{file}, row {row}, {column}: {found} is not a number. Write digits and a point, such as {example}."
)
NOT_WHOLE = N_("{file}, row {row}, {column}: {found} is not a whole number. Write it as {example}.")
OUT_OF_RANGE = N_(
    "{file}, row {row}, {column}: {found} lies outside {low} to {high}. Check the figure and its unit."
)
NOT_A_MOMENT = N_(
    "{file}, row {row}, {column}: {found} is not a time. Write the site's own clock, such as {example}."
)
NOT_A_DAY = N_("{file}, row {row}, {column}: {found} is not a day. Write it as {example}.")
NOT_A_CODE = N_(
    "{file}, row {row}, {column}: {found} is not a code. Use up to 40 letters, digits, dots and dashes."
)
NOT_A_CHOICE = N_("{file}, row {row}, {column}: {found} is not known here. Write one of: {allowed}.")
TOO_LONG = N_("{file}, row {row}, {column}: the text is longer than {most} signs. Shorten it.")


@dataclass(frozen=True, slots=True)
class Column:
    """A column by its header; `needed` false lets its cells stay empty.

    `sort` says what a person types there: number, moment, day, code, choice, words;
    `allowed` the words to choose from.
    """

    name: str
    read: Reader
    needed: bool = True
    sort: str = "words"
    allowed: tuple[str, ...] = ()


def number(name: str, low: float, high: float, *, needed: bool = True) -> Column:
    """Declare a number from `low` to `high`, in the unit that the name ends with."""

    def read(cell: str, zone: ZoneInfo) -> float:
        if not _NUMBER.fullmatch(cell):
            raise Unreadable(NOT_A_NUMBER, example="12.5")
        value = float(cell)
        if not low <= value <= high:
            raise Unreadable(OUT_OF_RANGE, low=f"{low:g}", high=f"{high:g}")
        return value

    return Column(name, read, needed, "number")


def whole(name: str, low: int, high: int, *, needed: bool = True) -> Column:
    """Declare a whole number from `low` to `high`."""

    def read(cell: str, zone: ZoneInfo) -> int:
        if not _WHOLE.fullmatch(cell):
            raise Unreadable(NOT_WHOLE, example="750")
        value = int(cell)
        if not low <= value <= high:
            raise Unreadable(OUT_OF_RANGE, low=low, high=high)
        return value

    return Column(name, read, needed, "number")


def moment(name: str, *, needed: bool = True) -> Column:
    """Declare a time on the site's own clock, to the minute or the second."""

    def read(cell: str, zone: ZoneInfo) -> datetime:
        if not _MOMENT.fullmatch(cell):
            raise Unreadable(NOT_A_MOMENT, example="2026-06-16 07:30")
        try:
            return datetime.fromisoformat(cell).replace(tzinfo=zone)
        except ValueError:
            raise Unreadable(NOT_A_MOMENT, example="2026-06-16 07:30") from None

    return Column(name, read, needed, "moment")


def day(name: str, *, needed: bool = True) -> Column:
    """Declare a calendar day."""

    def read(cell: str, zone: ZoneInfo) -> date:
        if not _DAY.fullmatch(cell):
            raise Unreadable(NOT_A_DAY, example="2026-06-16")
        try:
            return date.fromisoformat(cell)
        except ValueError:
            raise Unreadable(NOT_A_DAY, example="2026-06-16") from None

    return Column(name, read, needed, "day")


def code(name: str, *, needed: bool = True) -> Column:
    """Declare the code that names a record for ever."""

    def read(cell: str, zone: ZoneInfo) -> str:
        if not _CODE.fullmatch(cell):
            raise Unreadable(NOT_A_CODE)
        return cell

    return Column(name, read, needed, "code")


def choice(name: str, *allowed: str, needed: bool = True) -> Column:
    """Declare one word out of a few."""

    def read(cell: str, zone: ZoneInfo) -> str:
        if cell not in allowed:
            raise Unreadable(NOT_A_CHOICE, allowed=", ".join(allowed))
        return cell

    return Column(name, read, needed, "choice", allowed)


def words(name: str, most: int = 80, *, needed: bool = True) -> Column:
    """Declare free text of at most `most` signs."""

    def read(cell: str, zone: ZoneInfo) -> str:
        if len(cell) > most:
            raise Unreadable(TOO_LONG, most=most)
        return cell

    return Column(name, read, needed, "words")
