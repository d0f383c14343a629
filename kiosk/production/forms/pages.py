"""What the pages of the records share: values as text, faults as sentences, what fields suggest."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from kiosk.figures.errors import Bounds
from kiosk.figures.figure import Unit
from kiosk.production.blueprint import bp
from kiosk.production.forms.suggestions import Suggested
from kiosk.production.records.codes import known_products
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.fields import Field, Type, Values, shown_twice, write
from kiosk.production.records.forms import number_text, us_unit
from kiosk.production.runs.instruments import SCALES, KnownInstrument, read_instruments
from kiosk.site.products import product_name
from kiosk.site.settings import Units
from kiosk.web.context import now, site_context, words
from kiosk.words import units
from kiosk.words.catalogs import N_
from kiosk.words.formats import NumberFault, parse_number, plain_number
from kiosk.words.record_faults import fault_sentence
from kiosk.words.units import CUT_NAMES

LAST_INSTRUMENT = "kiosk_instrument"


def fault_sentences(faults: RecordFaults) -> dict[str, str]:
    """Return a sentence for each field that is wrong, under `form` what belongs to none."""
    system = site_context().site.units
    return {
        one.column or "form": fault_sentence(one.code, _us(one.facts), words(), system)
        for one in faults.faults
    }


def _us(facts: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the facts of a fault, a temperature that is out of range in the site's unit."""
    allowed = facts.get("allowed")
    if site_context().site.units is Units.METRIC or not isinstance(allowed, Bounds) or allowed.unit != "°C":
        return facts
    read = (float(str(one)) for one in (facts["found"], allowed.low, allowed.high))
    found, low, high = (float(round(units.to_us(one, Unit.CELSIUS), 2)) for one in read)
    return {**facts, "found": found, "allowed": Bounds(low, high, "°F")}


def input_texts(fields: Sequence[Field], values: Values) -> dict[str, str]:
    """Return values as the reader types them: the site's units, their decimal mark, the browser's own time.

    A time that the clock shows twice keeps its offset, which the browser's own field cannot hold.
    """
    return {field.name: _input_text(field, values) for field in fields}


def _input_text(field: Field, values: Values) -> str:
    value = values.get(field.name)
    if isinstance(value, int | float):
        return number_text(value, us_unit(field, values, site_context().site), words())
    if isinstance(value, datetime):
        return _moment_text(value)
    return field.write(value, site_context().site.zone)


def _moment_text(at: datetime) -> str:
    """Return a time as the browser's own field holds it, or as one of two with their offsets."""
    zone = site_context().site.zone
    text, local = write(at, zone), at.astimezone(zone)
    return local.isoformat(" ", "minutes") if shown_twice(text, zone) else text.replace(" ", "T")


def clock_choices(text: str) -> list[tuple[str, str]]:
    """Return the two times that a time may be where the site's clock shows it twice, after itself."""
    both = shown_twice(text, site_context().site.zone)
    if not both:
        return []
    before, after = (words().gettext(one, time=at[:16]) for one, at in zip(_TWICE, both, strict=True))
    unsaid = [] if text in both else [(text, words().gettext(WHICH))]
    return [*unsaid, (both[0], before), (both[1], after)]


WHICH = N_("Which of the two?")
_TWICE = N_("{time}, before the clock went back"), N_("{time} once more, after the clock went back")


def field_label(field: Field) -> str:
    """Return the label of a field, which ends with the unit in which this site's forms ask it."""
    return _label_text(field.label, us_unit(field, {}, site_context().site))


def choice_label(label: str) -> str:
    """Return the label of a choice; of a temperature with the site's unit."""
    is_us = site_context().site.units is Units.US
    return _label_text(label, Unit.CELSIUS if is_us and label.endswith(", °C") else None)


def _label_text(label: str, unit: Unit | None) -> str:
    text = words().gettext(label)
    return f"{text.rpartition(', ')[0]}, {units.us_name(unit, words())}" if unit else text


def beside(field: Field, texts: Mapping[str, str]) -> str:
    """Return what stands in a field in the other unit, on a US site; "" where nothing can be read."""
    unit = us_unit(field, texts, site_context().site)
    try:
        read = parse_number(texts.get(field.name, ""), words())
    except NumberFault:
        return ""
    if unit:
        return f"({units.recorded_amount(float(units.from_us(read, unit)), unit, words(), Units.METRIC)})"
    is_bottle = site_context().site.units is Units.US and field.unit is Unit.ML
    return units.recorded_amount(float(read), Unit.ML, words(), Units.US) if is_bottle else ""


def cell_text(field: Field, values: Values) -> str:
    """Return a value as a page shows it: a choice by its label, a product by its name, else as in files."""
    if values.get(field.name) is None and values.get(_WARMTH_OF.get(field.name, "")) is not None:
        return words().gettext(AS_READ)
    value, unit = values.get(field.name), us_unit(field, values, site_context().site) or field.unit
    if field.name == "product" and value:
        return product_name(site_context().site, value, words())
    if unit and isinstance(value, int | float):
        return units.recorded_amount(value, unit, words(), site_context().site.units)
    label = field.allowed.get(str(value)) if field.type in (Type.CHOICE, Type.INSTRUMENT) else None
    return choice_label(label) if label else field.write(value, site_context().site.zone)


AS_READ = N_("not known; taken as it was read")
_WARMTH_OF = {
    "temperature_c": "reading",
    "volume_temperature_c": "volume_l",
    "collected_temperature_c": "collected_l",
}


def summary(fields: Sequence[Field], values: Values) -> str:
    """Return the first few values of a record in one line."""
    written = [field for field in fields if values[field.name] is not None]
    return " · ".join(cell_text(field, values) for field in written[:4])


Offers = dict[str, list[tuple[str, str]]]
"""The codes that fields offer, by the field's name, each with what stands beside it."""


def offers_of(session: Session, suggested: Mapping[str, Sequence[Suggested]]) -> Offers:
    """Return the codes that fields offer, with what each holds; products and experiments by their names."""
    offers = {
        name: [(code, contents_text(litres, abv_percent)) for code, litres, abv_percent in codes]
        for name, codes in suggested.items()
    }
    site = site_context().site
    products = [(one, product_name(site, one, words())) for one in known_products(session, site)]
    return {**offers, "product": products}


def known_instruments(session: Session) -> list[tuple[KnownInstrument, bool]]:
    """Return every instrument of the house, and whether its certificate has run out by today."""
    at = now()
    today = site_context().site.local(at).date()
    return [(one, one.has_run_out(at, today)) for one in read_instruments(session).every]


@bp.context_processor
def _field_context() -> dict[str, object]:
    """Return what the templates of fields and values look up, without any instrument of the house."""
    return {
        "instruments": (),
        "scales": SCALES,
        "beside": beside,
        "clock": _moment_text(now().replace(second=0, microsecond=0)),
        "clock_choices": clock_choices,
        "cell_text": cell_text,
        "choice_label": choice_label,
        "field_label": field_label,
        "summary": summary,
        "decimal_mark": plain_number(0.5, words()).strip("05"),
        "now": now(),
        "cut_names": CUT_NAMES,
    }


def contents_text(litres: float | None, abv_percent: float | None) -> str:
    """Return what is behind a code in a list: litres in the site's units, and the strength."""
    if litres is None:
        return ""
    amount = units.recorded_amount(round(litres, 1), Unit.L, words(), site_context().site.units)
    if abv_percent is None:
        return amount
    return f"{amount}, {units.amount(abv_percent, Unit.ABV_PERCENT, 1, words(), Units.METRIC)}"
