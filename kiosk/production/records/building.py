"""Rows become records: typed values turned into the columns of their table, and checked by themselves."""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from kiosk.figures.errors import FigureError
from kiosk.production.records.faults import FaultCode, RecordFault, ValueFault
from kiosk.production.records.fields import Type, Values, write
from kiosk.production.records.kinds import Kind
from kiosk.production.records.measuring import TareOf
from kiosk.production.records.plausibility import implausible_values
from kiosk.production.runs.instruments import SCALES, Instruments, NotAnInstrument
from kiosk.site.settings import Site

CLOCK_TOLERANCE = timedelta(minutes=5)
"""How far the clock of a tablet or an instrument may be ahead of the server's (common practice)."""
BY_HAND = "~"
"""Begins the key of a record that came by a form; no code in a file begins so."""


class Ref(NamedTuple):
    """A record named by kind and code in a column, turned into its id when it is written."""

    kind: str
    code: str
    column: str


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file, or what a form makes of its fields: typed values, and a digest of what they say.

    A row that is not `sound` has an empty value where a cell could not be read.
    """

    row: int
    values: Values
    digest: str
    sound: bool = True
    file: str = ""

    def __getitem__(self, column: str) -> Any:
        return self.values[column]


@dataclass(frozen=True, slots=True)
class Record:
    """A row ready to be written: `columns` by the names of its table, others named by `Ref`."""

    kind: Kind
    row: Row
    key: str
    columns: Mapping[str, Any]
    zone: ZoneInfo

    @property
    def place(self) -> tuple[str, int]:
        """File and row that it came from."""
        return self.row.file, self.row.row

    @property
    def code(self) -> str:
        """The code under which others refer to it, "" where none do."""
        return str(self.row["code"]) if self.kind.referred else ""

    def refs(self) -> Iterator[Ref]:
        """Yield what it refers to."""
        return (value for value in self.columns.values() if isinstance(value, Ref))

    def fault(self, code: FaultCode, column: str, found: object = None, **more: object) -> RecordFault:
        """Return a fault of this record; `found` is the value of its row's column unless given."""
        found = self.row.values.get(column) if found is None else found
        return _fault(self.row, self.zone, code, column, found, **more)


@dataclass(frozen=True, slots=True)
class BuildContext:
    """What rows are read against: tares by fill, the instruments of the house, now, the site's zone.

    `instruments` is None where certificates stand beside the readings already.
    """

    tare_of: TareOf
    instruments: Instruments | None
    at: datetime
    zone: ZoneInfo


def build_records(
    kind: Kind, rows: Iterable[Row], context: BuildContext, faults: list[RecordFault]
) -> list[Record]:
    """Return the records of rows of one kind; what is wrong with a row is added to `faults`."""
    records: list[Record] = []
    first: dict[str, int] = {}
    for row in rows:
        if not row.sound:
            continue
        key = key_of(kind, row.values, context.zone)
        faults.extend(_row_faults(kind, row, context))
        if key in first:
            faults.append(_fault(row, context.zone, FaultCode.ROW_TWICE, kind.key[0], key, first=first[key]))
        first.setdefault(key, row.row)
        try:
            records.append(Record(kind, row, key, _columns(kind, row.values, context), context.zone))
        except (ValueFault, FigureError) as error:
            faults.append(fault_of(error, row, context.zone))
    return records


def build_record(
    kind: Kind, values: Values, tare_of: TareOf, at: datetime, site: Site, faults: list[RecordFault]
) -> list[Record]:
    """Return the record of typed values as an import makes it; its faults are added to `faults`."""
    own = {field.name: values.get(field.name) for field in kind.fields}
    text = "\x1f".join(f"{name}={value}" for name, value in own.items())
    read = {name: values[name] for name in ("instrument_id", "certificate") if name in values}
    row = Row(values.get("row", 1), {**own, **read}, hashlib.sha256(text.encode()).hexdigest())
    context = BuildContext(tare_of, None, at, site.zone)  # the instrument was looked up before
    records = build_records(kind, [row], context, faults)
    return [replace(record, key=BY_HAND + record.key) for record in records]


def key_of(kind: Kind, values: Values, zone: ZoneInfo) -> str:
    """Return what names a row within its file, and its record for ever."""
    return "|".join(write(values[column], zone) for column in kind.key)


def fault_of(error: ValueFault | FigureError, row: Row, zone: ZoneInfo) -> RecordFault:
    """Return the fault of a row of which no record could be worked out."""
    if isinstance(error, FigureError):
        column = error.field if error.field in row.values else "reading"
        return _fault(row, zone, FaultCode.NOT_CALCULABLE, column, error.value, allowed=error.allowed)
    facts = dict(error.facts)
    found = facts.pop("found", None) or row.values.get(error.column)
    return _fault(row, zone, error.code, error.column, found, **facts)


def read_at(values: Values, now: datetime, zone: ZoneInfo) -> datetime:
    """Return when a strength was read: its certificate of that time holds. Of a day it is the end."""
    if values.get("received_on"):
        return datetime.combine(values["received_on"], time.max, zone)
    times = (values.get(name) for name in ("at", "gauged_at", "made_at"))
    return next(filter(None, times), now)


def _columns(kind: Kind, values: Values, context: BuildContext) -> dict[str, Any]:
    values = _with_certificate(values, context)
    columns: dict[str, Any] = {}
    for field in kind.fields:
        value = values[field.name]
        if field.refers and value is not None:
            columns[field.kept] = Ref(field.kind_of(values), value, field.name)
        elif field.kept and not (kind.batch and field.name == "code"):
            columns[field.kept] = field.stored(value)
    if "scale" in columns:
        columns["instrument_id"] = values.get("instrument_id")
    return columns | dict(kind.derive(values, context.tare_of))


def _with_certificate(values: Values, context: BuildContext) -> Values:
    """Put scale and certificate beside a reading whose instrument is named in place of a scale."""
    named = values.get("scale")
    if named is None or "certificate" in values or context.instruments is None:
        return values
    try:
        return {**values, **context.instruments.read_with(named, read_at(values, context.at, context.zone))}
    except NotAnInstrument:
        raise ValueFault(FaultCode.NOT_AN_INSTRUMENT, "scale", allowed=", ".join(SCALES)) from None


def _row_faults(kind: Kind, row: Row, context: BuildContext) -> Iterator[RecordFault]:
    for field in kind.fields:
        if field.type in (Type.MOMENT, Type.DAY) and _is_after(row[field.name], context):
            yield _fault(row, context.zone, FaultCode.IN_FUTURE, field.name, row[field.name])
    for doubt in implausible_values(kind.name, row.values):
        yield _fault(row, context.zone, doubt.code, doubt.column, doubt.found, **doubt.facts)
    if kind.order:
        begins, ends = (row[column] for column in kind.order)
        if begins and ends and ends < begins:
            first = write(begins, context.zone)
            yield _fault(row, context.zone, FaultCode.ENDS_BEFORE_START, kind.order[1], ends, first=first)


def _is_after(value: object, context: BuildContext) -> bool:
    latest = context.at.astimezone(UTC) + CLOCK_TOLERANCE
    if isinstance(value, datetime):
        return value > latest
    return isinstance(value, date) and value > latest.astimezone(context.zone).date()


def _fault(
    row: Row, zone: ZoneInfo, code: FaultCode, column: str, found: object, **more: object
) -> RecordFault:
    return RecordFault(code, column, write(found, zone), more, row.file, row.row)
