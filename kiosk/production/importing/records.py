"""Lines made into records, still naming each other by code, and what they are checked for alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.figures.errors import FigureError
from kiosk.production.importing.building import TareOf
from kiosk.production.importing.columns import shown
from kiosk.production.importing.faults import RecordFault, Unreadable
from kiosk.production.importing.kinds import Kind
from kiosk.production.importing.reading import Line
from kiosk.production.runs.instruments import SCALES, Instruments, NotAnInstrument
from kiosk.words.catalogs import N_

TWICE = N_("{file}, row {row}, {column}: {found} stands already in row {first}. Take one of the two out.")
IN_FUTURE = N_("{file}, row {row}, {column}: {found} lies in the future. Check the date and the time.")
BACKWARDS = N_("{file}, row {row}, {column}: {found} lies before {first}, its beginning. Check both times.")
NOT_CALCULABLE = N_(
    "{file}, row {row}, {column}: no strength can be worked out of {found} (allowed is {allowed}). "
    "Check reading, scale and temperature."
)
TIMES = ("moment", "day")
NOT_AN_INSTRUMENT = N_(
    "{file}, row {row}, {column}: {found} is none of the instruments here. Write the number of one, "
    "or one of: {allowed}."
)


@dataclass(frozen=True, slots=True)
class Record:
    """One line ready to be written: its values by column of the table."""

    kind: Kind
    file: str
    row: int
    key: str
    code: str  # of the batch or of what other lines name; "" for neither
    digest: str
    values: Mapping[str, Any]

    def fault(self, column: str, found: object, message: str, **more: object) -> RecordFault:
        """Say what is wrong with this record's line."""
        return RecordFault(self.file, self.row, column, shown(found), message, more)


@dataclass(frozen=True, slots=True)
class Desk:
    """What lines are read against: tares by fill, the instruments of the house, now, the site's zone."""

    tare_of: TareOf
    instruments: Instruments
    at: datetime
    zone: ZoneInfo


def made(kind: Kind, lines: Iterable[Line], desk: Desk, faults: list[RecordFault]) -> list[Record]:
    """Make the records of one file; what is wrong with a line is added to `faults`."""
    records: list[Record] = []
    first: dict[str, int] = {}
    for line in lines:
        if not line.sound:
            continue
        key = key_of(kind, line)
        wrong = list(_line_faults(kind, line, desk))
        if key in first:
            wrong.append(_fault(line, kind.key[0], key, TWICE, first=first[key]))
        first.setdefault(key, line.row)
        try:
            record = _record(kind, line, key, desk)
        except Unreadable as unreadable:
            found = unreadable.facts.pop("found", None) or line.cells.get(unreadable.column) or ""
            wrong.append(_fault(line, unreadable.column, found, unreadable.message, **unreadable.facts))
        except FigureError as error:
            column = error.field if error.field in line.cells else "reading"
            wrong.append(_fault(line, column, error.value, NOT_CALCULABLE, allowed=error.allowed))
        else:
            records.append(record)
        faults.extend(wrong)
    return records


def key_of(kind: Kind, line: Line) -> str:
    """Return what names a line within its file, and its record for ever."""
    return "|".join(shown(line[column]) for column in kind.key)


def _record(kind: Kind, line: Line, key: str, desk: Desk) -> Record:
    code = str(line["code"]) if kind.batch or kind.named else ""
    values = kind.build(_corrected(line.cells, desk), desk.tare_of)
    return Record(kind, line.file, line.row, key, code, line.digest, values)


def _corrected(cells: Mapping[str, Any], desk: Desk) -> Mapping[str, Any]:
    """Put scale and certificate beside a reading whose instrument is named in place of a scale."""
    said = cells.get("scale")
    if said is None or "certificate" in cells:
        return cells
    try:
        return {**cells, **desk.instruments.read_with(said, read_at(cells, desk.at, desk.zone))}
    except NotAnInstrument:
        raise Unreadable(NOT_AN_INSTRUMENT, "scale", allowed=", ".join(SCALES)) from None


def read_at(cells: Mapping[str, Any], now: datetime, zone: ZoneInfo) -> datetime:
    """Return when a strength was read: its certificate of that time holds. Of a day it is the end."""
    if cells.get("received_on"):
        return datetime.combine(cells["received_on"], time.max, zone)
    times = (cells.get(name) for name in ("at", "gauged_at", "made_at"))
    return next(filter(None, times), now)


def _line_faults(kind: Kind, line: Line, desk: Desk) -> Iterator[RecordFault]:
    for column in kind.columns:
        if column.sort in TIMES and _is_after(line[column.name], desk.at, desk.zone):
            yield _fault(line, column.name, line[column.name], IN_FUTURE)
    if kind.order:
        begins, ends = (line.cells[column] for column in kind.order)
        if isinstance(begins, datetime) and isinstance(ends, datetime) and ends < begins:
            yield _fault(line, kind.order[1], ends, BACKWARDS, first=shown(begins))


def _is_after(value: object, at: datetime, zone: ZoneInfo) -> bool:
    if isinstance(value, datetime):
        return value > at
    return isinstance(value, date) and value > at.astimezone(zone).date()


def _fault(line: Line, column: str, found: object, message: str, **more: object) -> RecordFault:
    return RecordFault(line.file, line.row, column, shown(found), message, more)
