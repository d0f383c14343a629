"""Fields of records: name with its unit, type, range, what it refers to and where it is kept.

A value is typed once, where it comes in, from the text of a cell or a form
(`Field.read`) or from JSON (`Field.from_json`), and stays typed: numbers are
numbers, an instant is UTC. `Field.write` gives the one text of a value in files.
"""

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import MAXYEAR, UTC, date, datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.figures.figure import Unit
from kiosk.production.records.faults import FaultCode, ValueFault
from kiosk.site.settings import instants_of, on_the_clock

Values = Mapping[str, Any]
"""Typed values by the names of fields; None where nothing was written."""

_NUMBER = re.compile(r"-?\d{1,9}([.,]\d{1,6})?", re.ASCII)
_THOUSANDS = re.compile(r"-?[1-9]\d{0,2},\d{3}", re.ASCII)
_WHOLE = re.compile(r"\d{1,9}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2}(:\d{2})?([+-]\d{2}:\d{2})?", re.ASCII)
_DAY = re.compile(r"(\d{4}-\d{2}-\d{2})( 00:00(:00)?)?", re.ASCII)  # spreadsheets add midnight
CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", re.ASCII)
EARLIEST_YEAR = 1950
"""What lies before is no record: spreadsheets write 1900 for an empty day."""
MOMENT_EXAMPLE, DAY_EXAMPLE = "2026-06-16 07:30", "2026-06-16"
_UNITS = {"l": Unit.L, "ml": Unit.ML, "kg": Unit.KG, "c": Unit.CELSIUS}
_UNITS_OF = {"alcohol_l": Unit.LPA, "thermometer_correction_c": Unit.CELSIUS_DIFFERENCE}
_KEPT_UNITS = {"_l": "_ml", "_kg": "_g", "_c": "_mc"}
_SCALES = {"_e2": 100, "_e4": 10_000, "_ml": 1000, "_g": 1000, "_mc": 1000}


class Type(StrEnum):
    """What a value is."""

    NUMBER = "number"
    WHOLE = "whole"
    MOMENT = "moment"
    DAY = "day"
    CODE = "code"
    CHOICE = "choice"
    INSTRUMENT = "instrument"  # the number of one of the house, or a scale
    WORDS = "words"


@dataclass(frozen=True, slots=True)
class Field:
    """One field. A unit in its name is the unit of its values.

    `allowed` are the words to choose from with their labels; `refers` the kind of record
    that a code names, or the field that says the kind; `kept` the column of its table,
    as whole numbers `scale` to the unit, "" where other columns are worked out of it. `refused`
    are words that are no choice, with the fault that says what to write instead.
    """

    name: str
    label: str
    type: Type
    needed: bool = True
    low: float = 0
    high: float = 0
    allowed: Mapping[str, str] = field(default_factory=dict)
    refers: str = ""
    kept: str = ""
    scale: int = 1
    refused: Mapping[str, FaultCode] = field(default_factory=dict)

    @property
    def unit(self) -> Unit | None:
        """The unit that its name ends with, where pages give the other system's beside it."""
        name = re.sub(r"_\d+$", "", self.name)  # of a row of a form
        return None if "_per_" in name else _UNITS_OF.get(name) or _UNITS.get(name.rpartition("_")[2])

    def read(self, text: str, zone: ZoneInfo) -> Any:
        """Return the value of a text. Raises ValueFault."""
        return self.check(_READERS.get(self.type, _as_it_is)(self, text, zone))

    def check(self, value: Any) -> Any:
        """Return a typed value that lies in the range, or is one of the choices. Raises ValueFault."""
        if self.type in (Type.NUMBER, Type.WHOLE):
            if not self.low <= value <= self.high:
                raise ValueFault(FaultCode.OUT_OF_RANGE, low=self.low, high=self.high)
        elif self.type is Type.CHOICE and value not in self.allowed:
            code = self.refused.get(value, FaultCode.NOT_A_CHOICE)
            raise ValueFault(code, allowed=", ".join(self.allowed))
        elif self.type is Type.INSTRUMENT and not CODE.fullmatch(value):
            raise ValueFault(FaultCode.NOT_AN_INSTRUMENT, allowed=", ".join(self.allowed))
        elif self.type is Type.CODE and not CODE.fullmatch(value):
            raise ValueFault(FaultCode.NOT_A_CODE)
        elif self.type is Type.WORDS and len(value) > self.high:
            raise ValueFault(FaultCode.TOO_LONG, most=int(self.high))
        return value

    def from_json(self, value: Any, zone: ZoneInfo) -> Any:
        """Return the value that JSON holds; text of earlier versions is read as that of a cell."""
        if value is None or value == "":
            return None
        if self.type is Type.MOMENT:
            at = datetime.fromisoformat(value)
            return at.astimezone(UTC) if at.tzinfo else self.read(value, zone)
        return self.read(value, zone) if isinstance(value, str) else self.check(value)

    def to_json(self, value: Any) -> Any:
        """Return a value as JSON holds it: instants in UTC, numbers as numbers."""
        return value.isoformat() if isinstance(value, date) else value

    def write(self, value: Any, zone: ZoneInfo) -> str:
        """Return a value as a file writes it, instants on the site's own clock."""
        return write(value, zone)

    def kind_of(self, values: Values) -> str:
        """Return the kind of record that its code names."""
        return str(values[self.refers]) if self.refers.endswith("_kind") else self.refers

    def stored(self, value: Any) -> Any:
        """Return a value as its column keeps it."""
        return round(value * self.scale) if self.scale != 1 and value is not None else value

    def loaded(self, row: Mapping[str, Any]) -> Any:
        """Return the value that a row, or its former self, holds in its column."""
        value = row.get(self.kept)
        if value is None:
            return None
        if self.type is Type.MOMENT and isinstance(value, str):
            return datetime.fromisoformat(value)
        return value / self.scale if self.scale != 1 else value


def number(name: str, low: float, high: float, label: str, *, kept: str | None = None) -> Field:
    """Declare a number from `low` to `high`; `kept` is its column, by default that of its small unit."""
    if kept is None:
        stem, mark, unit = name.rpartition("_")
        kept = stem + _KEPT_UNITS[mark + unit] if mark + unit in _KEPT_UNITS else ""
    scale = next((scale for end, scale in _SCALES.items() if kept.endswith(end)), 1)
    return Field(name, label, Type.NUMBER, low=low, high=high, kept=kept, scale=scale)


def whole(name: str, low: int, high: int, label: str) -> Field:
    """Declare a whole number from `low` to `high`."""
    return Field(name, label, Type.WHOLE, low=low, high=high, kept=name)


def moment(name: str, label: str) -> Field:
    """Declare an instant: UTC in the records, the site's own clock in files and forms."""
    return Field(name, label, Type.MOMENT, kept=name)


def day(name: str, label: str) -> Field:
    """Declare a calendar day."""
    return Field(name, label, Type.DAY, kept=name)


def code(name: str, label: str, refers: str = "", kept: str | None = None) -> Field:
    """Declare a code: of the record itself, or of the kind of record that it `refers` to."""
    return Field(name, label, Type.CODE, refers=refers, kept=name if kept is None else kept)


def choice(name: str, label: str, /, *, kept: str | None = None, **allowed: str) -> Field:
    """Declare a field whose value is one of the words that `allowed` gives labels to, and return it.

    `kept` is the column that holds the value, by default the one called `name`; "" for none.
    """
    return Field(name, label, Type.CHOICE, allowed=allowed, kept=name if kept is None else kept)


def words(name: str, label: str, most: int = 80) -> Field:
    """Declare free text of at most `most` signs."""
    return Field(name, label, Type.WORDS, high=most, kept=name)


def optional(*fields: Field) -> tuple[Field, ...]:
    """Return the same fields, which may stay empty."""
    return tuple(replace(one, needed=False) for one in fields)


def write(value: Any, zone: ZoneInfo) -> str:
    """Return a value as a file writes it: one way for one value.

    An instant is written on the site's own clock, with its offset only where that clock shows
    the hour a second time.
    """
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    if not isinstance(value, datetime):
        return str(value)
    local = value.astimezone(zone)
    wall = local if local.fold else local.replace(tzinfo=None)
    return wall.isoformat(" ", "seconds" if value.second else "minutes")


def jsonable(fields: Iterable[Field], values: Values) -> dict[str, Any]:
    """Return the values that were written, as JSON holds them."""
    given = ((one, values.get(one.name)) for one in fields)
    return {one.name: one.to_json(value) for one, value in given if value is not None}


def from_json(fields: Iterable[Field], held: Values, zone: ZoneInfo) -> dict[str, Any]:
    """Return the typed values of fields that JSON holds."""
    return {one.name: one.from_json(held.get(one.name), zone) for one in fields}


def _as_it_is(asked: Field, text: str, zone: ZoneInfo) -> str:
    return text


def _number(asked: Field, text: str, zone: ZoneInfo) -> float:
    if not _NUMBER.fullmatch(text):
        raise ValueFault(FaultCode.NOT_A_NUMBER, example="12.5")
    # A gravity of 1,063 is no ambiguity: no gravity is 1063.
    if _THOUSANDS.fullmatch(text) and abs(float(text.replace(",", ""))) <= asked.high:
        two = {"decimal": text.replace(",", "."), "thousands": text.replace(",", "")}
        raise ValueFault(FaultCode.TWO_NUMBERS, **two)
    value = float(text.replace(",", "."))
    if math.isinf(value):  # more digits than a number has here
        raise ValueFault(FaultCode.NOT_A_NUMBER, example="12.5")
    return value


def _whole(asked: Field, text: str, zone: ZoneInfo) -> int:
    if not _WHOLE.fullmatch(text):
        raise ValueFault(FaultCode.NOT_WHOLE, example="750")
    return int(text)


def _moment(asked: Field, text: str, zone: ZoneInfo) -> datetime:
    if not _MOMENT.fullmatch(text):
        raise _no_date(text, FaultCode.NOT_A_MOMENT, MOMENT_EXAMPLE)
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise ValueFault(FaultCode.NOT_A_MOMENT, example=MOMENT_EXAMPLE) from None
    _not_early(at, MOMENT_EXAMPLE)
    if at.year == MAXYEAR:  # its last hours are in no year on another zone's clock
        raise ValueFault(FaultCode.NOT_A_MOMENT, example=MOMENT_EXAMPLE)
    wall = at.replace(tzinfo=None)
    instants = instants_of(wall, zone)
    if not instants:
        after, before = (on_the_clock(wall, zone, fold).astimezone(zone) for fold in (0, 1))
        facts = {"before": write(before, zone), "after": write(after, zone)}
        raise ValueFault(FaultCode.CLOCK_SKIPS, **facts)
    if at.tzinfo is None:
        return instants[0]
    if at.astimezone(UTC) not in instants:
        allowed = ", ".join(_with_offset(one, zone) for one in instants)
        raise ValueFault(FaultCode.NOT_ON_THE_CLOCK, allowed=allowed)
    return at.astimezone(UTC)


def _with_offset(instant: datetime, zone: ZoneInfo) -> str:
    return instant.astimezone(zone).isoformat(" ", "seconds" if instant.second else "minutes")


def shown_twice(text: str, zone: ZoneInfo) -> list[str]:
    """Return a time with each of its two offsets where the clock shows it twice, else nothing.

    The text may name one of the offsets already; what is no time has none.
    """
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return []
    both = instants_of(at.replace(tzinfo=None), zone)
    return [_with_offset(one, zone) for one in both] if len(both) > 1 else []


def _day(asked: Field, text: str, zone: ZoneInfo) -> date:
    match = _DAY.fullmatch(text)
    if not match:
        raise _no_date(text, FaultCode.NOT_A_DAY, DAY_EXAMPLE)
    try:
        on = date.fromisoformat(match[1])
    except ValueError:
        raise ValueFault(FaultCode.NOT_A_DAY, example=DAY_EXAMPLE) from None
    _not_early(on, DAY_EXAMPLE)
    return on


def _no_date(text: str, code: FaultCode, example: str) -> ValueFault:
    return ValueFault(FaultCode.SERIAL_NUMBER if _NUMBER.fullmatch(text) else code, example=example)


def _not_early(on: date, example: str) -> None:
    if on.year < EARLIEST_YEAR:
        raise ValueFault(FaultCode.TOO_EARLY, year=str(EARLIEST_YEAR), example=example)


_READERS: Mapping[Type, Callable[[Field, str, ZoneInfo], Any]] = {
    Type.NUMBER: _number,
    Type.WHOLE: _whole,
    Type.MOMENT: _moment,
    Type.DAY: _day,
}
