"""What was typed into fields, read in the reader's own way of writing numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.production.importing.columns import Column
from kiosk.production.importing.faults import RecordFault, Unreadable
from kiosk.words.catalogs import N_, Words
from kiosk.words.errors import fact_text
from kiosk.words.formats import NumberFault, parse_number

EMPTY = N_("This value is needed.")


class EntryFaults(Exception):
    """What was typed cannot be a record; `faults` by the field that each belongs to."""

    status = 422
    message = N_("Some of what was typed cannot be recorded. It is marked below.")
    facts: Mapping[str, object] = {}

    def __init__(self, faults: Sequence[RecordFault]) -> None:
        super().__init__("; ".join(f"{fault.column}: {fault.message}" for fault in faults))
        self.faults = tuple(faults)


@dataclass(frozen=True, slots=True)
class Read:
    """The cells as a file would write them, and what they say."""

    cells: Mapping[str, str]
    values: Mapping[str, Any]


def as_written(columns: Sequence[Column], typed: Mapping[str, str], words: Words) -> dict[str, str]:
    """Return what was typed as a file of records writes it. Raises EntryFaults for numbers unread."""
    cells, faults = {}, []
    for column in columns:
        text = typed.get(column.name, "").strip()
        try:
            cells[column.name] = _plain(column, text, words)
        except NumberFault as fault:
            faults.append(RecordFault("", 0, column.name, text, fault.message, fault.facts))
    if faults:
        raise EntryFaults(faults)
    return cells


def read(columns: Sequence[Column], cells: Mapping[str, str], zone: ZoneInfo) -> Read:
    """Read cells. Raises EntryFaults with everything that is wrong in them."""
    values: dict[str, Any] = {}
    faults = []
    for column in columns:
        text = cells.get(column.name, "")
        try:
            values[column.name] = _value(column, text, zone)
        except Unreadable as wrong:
            faults.append(RecordFault("", 0, column.name, text, wrong.message, wrong.facts))
    if faults:
        raise EntryFaults(faults)
    return Read(cells, values)


def told(message: str, facts: Mapping[str, object], words: Words) -> str:
    """Return a fault's sentence as it stands beside its field, which names the place already."""
    text = words.translations.gettext(message)
    plain = {name: fact_text(value, words) for name, value in facts.items()}
    sentence = (text.partition("{column}: ")[2] or text).format(**plain)
    return sentence[:1].upper() + sentence[1:]


def _plain(column: Column, text: str, words: Words) -> str:
    if column.sort == "moment":
        return text.replace("T", " ")
    return format(parse_number(text, words), "f") if column.sort == "number" and text else text


def _value(column: Column, text: str, zone: ZoneInfo) -> object:
    if text:
        return column.read(text, zone)
    if column.needed:
        raise Unreadable(EMPTY)
    return None
