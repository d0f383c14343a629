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
from kiosk.words.catalogs import N_

Reader = Callable[[str, ZoneInfo], object]

_NUMBER = re.compile(r"-?\d{1,9}([.,]\d{1,6})?", re.ASCII)
_THOUSANDS = re.compile(r"-?[1-9]\d{0,2},\d{3}", re.ASCII)
_WHOLE = re.compile(r"\d{1,9}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2}(:\d{2})?", re.ASCII)
_DAY = re.compile(r"(\d{4}-\d{2}-\d{2})( 00:00(:00)?)?", re.ASCII)  # spreadsheets add midnight
EARLIEST_YEAR = 1950
"""What lies before is no record: spreadsheets write 1900 for an empty day."""
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")

NOT_A_NUMBER = N_(
    "{file}, row {row}, {column}: {found} is not a number. Write digits and a point, such as {example}."
)
TWO_NUMBERS = N_(
    "{file}, row {row}, {column}: {found} may be {decimal} or {thousands}. Write it as one of these."
)
A_SERIAL = N_(
    "{file}, row {row}, {column}: {found} is the number that a spreadsheet keeps for a day. "
    "Format the column as a date, or write it as {example}."
)
TOO_EARLY = N_(
    "{file}, row {row}, {column}: {found} lies before {year}; a spreadsheet writes such days for an empty or "
    "mistaken cell. Write the day itself, such as {example}."
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

    `sort` says what a person types there: number, moment, day, code, choice, instrument, words;
    `allowed` the words to choose from, `limits` the least and the most of a number.
    """

    name: str
    read: Reader
    needed: bool = True
    sort: str = "words"
    allowed: tuple[str, ...] = ()
    limits: tuple[float, float] | None = None


def number(name: str, low: float, high: float, *, needed: bool = True) -> Column:
    """Declare a number from `low` to `high`, in the unit that the name ends with.

    Its mark is a point, or a comma where that can be nothing else.
    """

    def read(cell: str, zone: ZoneInfo) -> float:
        value = _number(cell, high)
        if not low <= value <= high:
            raise Unreadable(OUT_OF_RANGE, low=f"{low:g}", high=f"{high:g}")
        return value

    return Column(name, read, needed, "number", limits=(low, high))


def whole(name: str, low: int, high: int, *, needed: bool = True) -> Column:
    """Declare a whole number from `low` to `high`."""

    def read(cell: str, zone: ZoneInfo) -> int:
        if not _WHOLE.fullmatch(cell):
            raise Unreadable(NOT_WHOLE, example="750")
        value = int(cell)
        if not low <= value <= high:
            raise Unreadable(OUT_OF_RANGE, low=low, high=high)
        return value

    return Column(name, read, needed, "number", limits=(low, high))


def moment(name: str, *, needed: bool = True) -> Column:
    """Declare a time on the site's own clock, to the minute or the second."""

    return Column(name, _moment, needed, "moment")


def day(name: str, *, needed: bool = True) -> Column:
    """Declare a calendar day."""
    return Column(name, _day, needed, "day")


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


def scale(name: str, *allowed: str, needed: bool = True) -> Column:
    """Declare what a strength was read with: the number of an instrument here, or one of a few scales."""

    def read(cell: str, zone: ZoneInfo) -> str:
        if not _CODE.fullmatch(cell):
            raise Unreadable(NOT_A_CHOICE, allowed=", ".join(allowed))
        return cell

    return Column(name, read, needed, "instrument", allowed)


def words(name: str, most: int = 80, *, needed: bool = True) -> Column:
    """Declare free text of at most `most` signs."""

    def read(cell: str, zone: ZoneInfo) -> str:
        if len(cell) > most:
            raise Unreadable(TOO_LONG, most=most)
        return cell

    return Column(name, read, needed, "words")


def shown(value: object) -> str:
    """Return what a reader made of a cell as a file would write it: one way for one value."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    if not isinstance(value, datetime):
        return str(value)
    # The zone is the site's own and stands in no file; seconds only where they were written.
    return value.replace(tzinfo=None).isoformat(" ", "seconds" if value.second else "minutes")


def _number(cell: str, high: float) -> float:
    if not _NUMBER.fullmatch(cell):
        raise Unreadable(NOT_A_NUMBER, example="12.5")
    # A gravity of 1,063 is no ambiguity: no gravity is 1063.
    if _THOUSANDS.fullmatch(cell) and abs(float(cell.replace(",", ""))) <= high:
        two = {"decimal": cell.replace(",", "."), "thousands": cell.replace(",", "")}
        raise Unreadable(TWO_NUMBERS, **two)
    return float(cell.replace(",", "."))


def _moment(cell: str, zone: ZoneInfo) -> datetime:
    example = "2026-06-16 07:30"
    if not _MOMENT.fullmatch(cell):
        raise _no_date(cell, NOT_A_MOMENT, example)
    try:
        at = datetime.fromisoformat(cell)
    except ValueError:
        raise Unreadable(NOT_A_MOMENT, example=example) from None
    _not_early(at, example)
    return at.replace(tzinfo=zone)


def _day(cell: str, zone: ZoneInfo) -> date:
    example = "2026-06-16"
    found = _DAY.fullmatch(cell)
    if not found:
        raise _no_date(cell, NOT_A_DAY, example)
    try:
        on = date.fromisoformat(found[1])
    except ValueError:
        raise Unreadable(NOT_A_DAY, example=example) from None
    _not_early(on, example)
    return on


def _no_date(cell: str, message: str, example: str) -> Unreadable:
    return Unreadable(A_SERIAL if _NUMBER.fullmatch(cell) else message, example=example)


def _not_early(on: date, example: str) -> None:
    if on.year < EARLIEST_YEAR:
        raise Unreadable(TOO_EARLY, year=str(EARLIEST_YEAR), example=example)
