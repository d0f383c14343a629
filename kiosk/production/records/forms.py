"""Forms: the fields that are asked, how their texts become values, and how values become records.

The few forms that other rooms write too, instruments and the tasting, are here; the others
stand with their pages.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Unit
from kiosk.figures.strength import volume_at
from kiosk.production.records import kinds as k
from kiosk.production.records import measuring as m
from kiosk.production.records.faults import FaultCode, RecordFault, RecordFaults, ValueFault
from kiosk.production.records.fields import Field, Type, Values, number, optional, shown_twice
from kiosk.site.settings import Site, Units
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import NumberFault, Rounding, exact, parse_number, plain_number, rounded
from kiosk.words.units import from_us, to_us

Derived = tuple[k.Kind, Mapping[str, Any]]
"""A kind of record and the values of its fields."""


class FormContext(NamedTuple):
    """What records are worked out with beside what was typed.

    `tare_of` is as `measuring.TareOf`; `strength_of` returns the % vol at 20 °C that
    the records already give for a batch by kind and code, None where it is to be read.
    """

    tare_of: m.TareOf
    strength_of: Callable[[str, str], float | None]
    zone: ZoneInfo

    def day(self, at: datetime) -> date:
        """Return the day of an instant on the site's clock."""
        return at.astimezone(self.zone).date()


Derive = Callable[[Values, FormContext], Sequence[Derived]]
"""Returns the records of a form's values. Raises ValueFault, FigureError."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The same few fields asked `most` times; a row may be left empty, the first may not.

    A field of row 2 is called by its name and "_2".
    """

    fields: tuple[Field, ...]
    most: int = 4

    @property
    def rows(self) -> list[tuple[Field, ...]]:
        """The fields of every row."""
        return [
            tuple(replace(one, name=f"{one.name}_{n}", needed=False) for one in self.fields)
            for n in range(1, self.most + 1)
        ]

    def filled(self, values: Values) -> list[dict[str, Any]]:
        """Return the rows in which anything was written, each with its number as `row`. Raises ValueFault."""
        filled: list[dict[str, Any]] = []
        for n in range(1, self.most + 1):
            row = {one.name: values[f"{one.name}_{n}"] for one in self.fields}
            if any(value is not None for value in row.values()):
                self._check(row, n, filled)
                filled.append({**row, "row": n})
        if not filled:
            raise ValueFault(FaultCode.NO_PARTS, f"{self.fields[0].name}_1")
        return filled

    def _check(self, row: Values, n: int, before: list[dict[str, Any]]) -> None:
        names = [one.name for one in self.fields if one.type in (Type.CHOICE, Type.CODE)]
        if any(all(one[name] == row[name] for name in names) for one in before):
            raise ValueFault(FaultCode.PART_TWICE, f"{names[-1]}_{n}", found=row[names[-1]])
        for one in self.fields:
            if one.needed and row[one.name] is None:
                raise ValueFault(FaultCode.PART_NEEDED, f"{one.name}_{n}")

    def each(self, values: Values, derive: Callable[[Values], Derived]) -> Iterator[Derived]:
        """Derive a record from each row; a fault in it is put beside the field of its row."""
        for row in self.filled(values):
            n = row["row"]
            try:
                yield derive(row)
            except ValueFault as fault:
                column = f"{fault.column}_{n}" if fault.column in row else fault.column
                raise ValueFault(fault.code, column, **fault.facts) from fault
            except FigureError as error:
                facts = {"found": error.value, "allowed": error.allowed}
                raise ValueFault(FaultCode.NOT_CALCULABLE, f"reading_{n}", **facts) from error


@dataclass(frozen=True, slots=True)
class Form:
    """One form: its fields, and how its values become records.

    `parts` are the rows that it asks besides; `closes` names the field whose fill,
    wash or run ends by it, `hint` says what is not plain from the fields. A form with a `pad` is
    written standing, with wet hands: its numbers are large and have keys on screens that are touched.
    """

    name: str
    title: str
    own: tuple[Field, ...]
    derive: Derive
    parts: Parts | None = None
    closes: str = ""
    hint: str = ""
    pad: bool = False

    @property
    def fields(self) -> tuple[Field, ...]:
        """Every field, those of the rows among them."""
        rows = self.parts.rows if self.parts else []
        return (*self.own, *(field for row in rows for field in row))


def us_unit(field: Field, values: Values, site: Site) -> Unit | None:
    """Return the metric unit of a field that a form asks in its US unit, None where it is asked as kept.

    A wash reading of the kind "temperature" is a temperature too.
    """
    if site.units is not Units.US or field.type is not Type.NUMBER:
        return None
    return Unit.CELSIUS if field.name == "value" and values.get("kind") == "temperature" else field.unit


def number_text(value: float, unit: Unit | None, words: Words) -> str:
    """Return a number as a form shows it; in the US unit of `unit`, where there is one.

    It has the fewest decimals there that give it back to a thousandth, as records are kept.
    """
    if unit is None:
        return plain_number(round(value, 6), words)
    every = (rounded(to_us(value, unit), digits) for digits in range(9))
    return plain_number(next(us for us in every if abs(from_us(us, unit) - exact(value)) < 0.0005), words)


def typed_values(
    fields: Sequence[Field], texts: Values, site: Site, words: Words | None = None, held: Values | None = None
) -> dict[str, Any]:
    """Return the values of texts by field: typed as the site's forms ask in `words`, else as in files.

    A number whose text is still that of its value in `held`, which the form showed, stays that
    value. Raises RecordFaults with everything that is wrong.
    """
    values, faults = {}, []
    for field in fields:
        text, before = texts.get(field.name, "").strip(), (held or {}).get(field.name)
        unit = us_unit(field, texts, site) if words else None
        try:
            same = words and isinstance(before, float) and text == number_text(before, unit, words)
            values[field.name] = before if same else _typed(field, text, site, words, unit)
        except NumberFault as fault:
            facts = {"example": fault.facts["example"]}
            faults.append(RecordFault(FaultCode.NOT_A_NUMBER_HERE, field.name, text, facts))
        except ValueFault as fault:
            faults.append(RecordFault(fault.code, field.name, text, fault.facts))
    if faults:
        raise RecordFaults(*faults)
    return values


def _typed(field: Field, text: str, site: Site, words: Words | None, unit: Unit | None) -> Any:
    if not text and field.needed:
        raise ValueFault(FaultCode.NEEDED)
    if not text:
        return None
    if words is not None and field.type is Type.NUMBER:
        read = float(parse_number(text, words))
        return _converted(field, read, unit) if unit else field.check(read)
    if words is not None and field.type is Type.WHOLE:
        text = format(parse_number(text, words), "f")
    if field.type is not Type.MOMENT:
        return field.read(text, site.zone)
    text = text.replace("T", " ")
    both = shown_twice(text, site.zone) if words is not None else []
    if both and text not in both:
        raise ValueFault(FaultCode.CLOCK_TWICE, first=both[0], second=both[1])
    return field.read(text, site.zone)


def _converted(field: Field, read: float, unit: Unit) -> float:
    """Return a number typed in a US unit in the unit of its field, whose range a fault tells as typed."""
    low = rounded(to_us(field.low, unit), 2, Rounding.UP)
    high = rounded(to_us(field.high, unit), 2, Rounding.DOWN)
    replace(field, low=float(low), high=float(high)).check(read)
    return float(round(from_us(read, unit), 6))


def event(kind: str) -> Derive:
    """Return what derives an event of the fill."""
    return lambda v, context: [(k.CASK_EVENTS, {**v, "kind": kind})]


def wash_reading(v: Values, context: FormContext) -> list[Derived]:
    """Derive a reading of a wash."""
    return [(k.WASH_READINGS, v)]


def still_reading(v: Values, context: FormContext) -> list[Derived]:
    """Read a still: what was collected is kept at 20 °C."""
    abv, warmth_c = m.abv_percent(v, as_read=True), v["collected_temperature_c"]
    at_20 = v["collected_l"] if warmth_c is None else volume_at(v["collected_l"], abv, warmth_c, 20.0)
    return [(k.RUN_READINGS, {**v, "collected_l": at_20})]


INSTRUMENT = replace(k.SCALE, name="instrument")
STRENGTH = (INSTRUMENT, *k.READING)
READ = (INSTRUMENT, *k.READ)
SPIRIT = (*k.VOLUME, *STRENGTH)
(COLLECTED_TEMPERATURE,) = optional(
    number("collected_temperature_c", -20, 40, N_("Temperature of what was collected, °C"))
)
STILL_READING = Form(
    "still-reading",
    N_("Still reading"),
    (k.RUN, k.AT, k.CUT, *READ, k.COLLECTED_L, COLLECTED_TEMPERATURE),
    still_reading,
    hint=N_("At a change of cut choose what runs from this reading on."),
    pad=True,
)
WASH_READING = Form(
    "wash-reading", N_("Wash reading"), (k.WASH, k.AT, *k.WASH_READING), wash_reading, pad=True
)
SAMPLE = Form("sample", N_("Sample from a cask"), (k.CASK, k.AT, *SPIRIT), event("sample"))
