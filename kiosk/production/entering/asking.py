"""What forms ask: their own fields once, and rows of the same fields for what goes into one batch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from kiosk.figures.errors import FigureError
from kiosk.production.importing import building as b
from kiosk.production.importing import kinds as k
from kiosk.production.importing.columns import Column
from kiosk.production.importing.faults import Unreadable
from kiosk.production.importing.records import NOT_CALCULABLE
from kiosk.words.catalogs import N_

Values = Mapping[str, Any]
LineOf = tuple[k.Kind, dict[str, Any]]
PART_LACKS = N_("This value is needed for what goes in here.")
NAMED_TWICE = N_("{found} is named twice. Add the two together.")
NONE_GOES_IN = N_("Say what goes in.")


class Known(NamedTuple):
    """What lines are worked out with beside what was typed.

    `tare_of` is as `building.TareOf`; `strength_of` returns the % vol at 20 °C that
    the records already give for a batch by kind and code, None where it is to be read.
    """

    tare_of: b.TareOf
    strength_of: Callable[[str, str], float | None]


Lines = Callable[[Values, Known], list[LineOf]]


@dataclass(frozen=True, slots=True)
class Parts:
    """The same few fields asked `most` times; a row may be left empty, the first may not.

    A field of row 2 is called by its column and "_2".
    """

    columns: tuple[Column, ...]
    most: int

    @property
    def rows(self) -> list[tuple[Column, ...]]:
        """The fields of every row."""
        return [
            tuple(replace(column, name=f"{column.name}_{n}", needed=False) for column in self.columns)
            for n in range(1, self.most + 1)
        ]

    def filled(self, values: Values) -> list[dict[str, Any]]:
        """Return the rows in which anything was said, each with its number as `row`. Raises Unreadable."""
        found: list[dict[str, Any]] = []
        for n in range(1, self.most + 1):
            row = {column.name: values[f"{column.name}_{n}"] for column in self.columns}
            if any(value is not None for value in row.values()):
                self._whole(row, n, found)
                found.append({**row, "row": n})
        if not found:
            raise Unreadable(NONE_GOES_IN, f"{self.columns[0].name}_1")
        return found

    def _whole(self, row: Values, n: int, before: list[dict[str, Any]]) -> None:
        names = [column.name for column in self.columns if column.sort in ("choice", "code")]
        if any(all(one[name] == row[name] for name in names) for one in before):
            raise Unreadable(NAMED_TWICE, f"{names[-1]}_{n}", found=row[names[-1]])
        for column in self.columns:
            if column.needed and row[column.name] is None:
                raise Unreadable(PART_LACKS, f"{column.name}_{n}")

    def each(self, values: Values, line: Callable[[Values], LineOf]) -> Iterator[LineOf]:
        """Make a line of each row, told apart by its number where something is wrong in it."""
        for row in self.filled(values):
            n = row["row"]
            try:
                yield line(row)
            except Unreadable as wrong:
                column = f"{wrong.column}_{n}" if wrong.column in row else wrong.column
                raise Unreadable(wrong.message, column, **wrong.facts) from wrong
            except FigureError as error:
                facts = {"found": error.value, "allowed": error.allowed}
                raise Unreadable(NOT_CALCULABLE, f"reading_{n}", **facts) from error


@dataclass(frozen=True, slots=True)
class Form:
    """One form: its fields, and how what was read in them becomes lines of records.

    `parts` are the rows that it asks besides; `closes` names the field whose fill,
    wash or run ends by it, `hint` says what is not plain from the fields.
    """

    name: str
    title: str
    own: tuple[Column, ...]
    lines: Lines
    parts: Parts | None = None
    closes: str = ""
    hint: str = ""

    @property
    def fields(self) -> tuple[Column, ...]:
        """Every field, those of the rows among them."""
        rows = self.parts.rows if self.parts else []
        return (*self.own, *(column for row in rows for column in row))
