"""What a file of records is: its table, its columns, what names a line, how a line becomes a record.

A unit in a heading is the unit of its cells; times are the site's own clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Table

from kiosk.figures.strength import Instrument
from kiosk.production.importing.building import Cells, Ref, TareOf
from kiosk.production.importing.columns import Column, number, scale

BATCHES = ("field", "load", "wash", "run", "receiver", "fill", "blend", "received", "lot")

TEMPERATURE_C = number("temperature_c", -20, 40)
READING: tuple[Column, ...] = (
    scale("scale", *Instrument),
    number("reading", 0, 200),
    TEMPERATURE_C,
)
MAYBE_READING: tuple[Column, ...] = tuple(replace(c, needed=False) for c in READING)
VOLUME: tuple[Column, ...] = (number("volume_l", 0, 500_000), number("volume_temperature_c", -20, 40))
MAYBE_VOLUME: tuple[Column, ...] = tuple(replace(c, needed=False) for c in VOLUME)

Build = Callable[[Cells, TareOf], dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Kind:
    """One file: its table, its columns, what names a line, and how a line becomes a record.

    `batch` is the kind of batch that a line is, "" for none; `named` the kind
    under which other lines name it; `order` two times that must follow each other.
    """

    file: str
    table: Table
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    build: Build
    batch: str = ""
    named: str = ""
    order: tuple[str, str] | None = None


def plain(**made: Callable[[Cells], object]) -> Build:
    """Build a record whose every value comes from the line alone."""
    return lambda cells, tare_of: {name: make(cells) for name, make in made.items()}


def cell(column: str, turn: Callable[[Any], object] = lambda value: value) -> Callable[[Cells], object]:
    """Take one cell, turned."""
    return lambda cells: turn(cells[column])


def ref(kind: str, column: str) -> Callable[[Cells], object]:
    """Take one cell as the code of another record."""
    return lambda cells: None if cells[column] is None else Ref(kind, cells[column], column)
