"""Errors as sentences in the reader's language, written from their codes and values."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Generic, TypeVar

from kiosk.figures.errors import Bounds, FigureError, Need
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words

Field = TypeVar("Field")
Fault = tuple[str, Mapping[str, object]]
"""A message and the facts that fill it."""


class FormFaults(Exception, Generic[Field]):
    """What was typed cannot be recorded: what is wrong, by field."""

    status = 422
    message = ""
    facts: Mapping[str, object] = {}

    def __init__(self, faults: Mapping[Field, Fault]) -> None:
        super().__init__("; ".join(f"{field}: {message}" for field, (message, _) in faults.items()))
        self.faults = dict(faults)

    def sentences(self, words: Words) -> dict[Field, str]:
        """Return the sentence about each field in the reader's language."""
        return {
            field: words.gettext(message, **{name: fact_text(value, words) for name, value in facts.items()})
            for field, (message, facts) in self.faults.items()
        }


UNFORESEEN = N_("Something went wrong here. What was saved before is safe; please try again.")

FIGURE_REASONS: Mapping[str, str] = {
    "out_of_range": N_("{field} is {value}; allowed is {allowed}."),
    "freezing": N_("{field} is {value}: such a mixture would freeze; allowed is {allowed}."),
    "above_pure": N_("{field} is {value}: stronger than pure alcohol; allowed is {allowed}."),
    "holds_sugar": N_("{field} is {value}: sugar hides the strength, so a hydrometer cannot tell it."),
    "distil": N_(
        "{field} is {value}: a hydrometer cannot tell this strength; allowed is {allowed}. "
        "Distill the sample or use a laboratory method."
    ),
    "alcohol_misleads": N_("{field} is {value}: alcohol misleads it; allowed is {allowed}."),
    "not_falling": N_("{field} is {value}: the gravity does not fall, so no end can be told."),
    "lighter_than_content": N_("{field} is {value}: a full bottle weighs more; allowed is {allowed}."),
    "too_few": N_("There are too few records to say: {field} is {value}; needed is {allowed}."),
}

FIELDS: Mapping[str, str] = {
    "temperature_c": N_("the temperature in °C"),
    "temperature_f": N_("the temperature in °F"),
    "reference_c": N_("the reference temperature in °C"),
    "reading": N_("the reading"),
    "readings": N_("the readings"),
    "scale": N_("the scale of the reading"),
    "instrument": N_("the instrument"),
    "reading_abv_percent": N_("the strength read, in % vol"),
    "reading_proof": N_("the proof read"),
    "abv_percent": N_("the strength in % vol"),
    "proof": N_("the proof"),
    "to_abv_percent": N_("the strength to reach, in % vol"),
    "with_abv_percent": N_("the strength of the spirit added, in % vol"),
    "water_c": N_("the water's temperature in °C"),
    "parts": N_("the parts of the blend"),
    "charge": N_("the charge of the still"),
    "solids_g_per_100ml": N_("the solids in grams per 100 mL"),
    "residue_g": N_("the residue in grams"),
    "sample_ml": N_("the sample in mL"),
    "fermentable": N_("the share that ferments"),
    "efficiency": N_("the share of the yield reached"),
    "yield_l_per_kg": N_("the yield in liters per kg"),
    "mass_fraction": N_("the alcohol by mass"),
    "density_kg_m3": N_("the density in kg/m³"),
    "volume_l": N_("the volume in liters"),
    "mass_kg": N_("the weight in kg"),
    "brix": N_("the Brix reading"),
    "specific_gravity": N_("the specific gravity"),
    "original_gravity": N_("the gravity at the start"),
    "present_gravity": N_("the gravity now"),
    "volume": N_("the volume"),
    "collected_l": N_("the volume collected, in liters"),
    "bottle_ml": N_("the size of the bottle in mL"),
    "wine_gallons": N_("the volume in gallons"),
    "hours": N_("the hours"),
    "per_year": N_("the loss a year"),
    "pure_alcohol_l": N_("the pure alcohol in liters"),
    "cane_kg": N_("the cane in kg"),
    "drinks": N_("the standard drinks"),
    "volume_ul": N_("the volume in µL"),
    "abv_e2": N_("the strength in hundredths of % vol"),
    "flight": N_("the flight"),
    "guests": N_("the guests"),
    "servers": N_("those who pour"),
    "gauges": N_("the gauges of the casks"),
    "fills": N_("the fills of the casks"),
    "edges": N_("the draws"),
    "amount": N_("the amount drawn"),
    "degrees": N_("the number of casks gauged twice"),
    "arrived": N_("the time of arrival"),
    "drawn_on": N_("the day of the draw"),
    "gap_minutes": N_("the minutes between pours"),
    "here": N_("the stop on the route"),
    "holds": N_("the people that a stop holds"),
    "juice_kg": N_("the juice in kg"),
    "least": N_("the least share that is followed"),
    "minutes": N_("the minutes"),
    "minutes_late": N_("the minutes of delay"),
    "pour_seconds": N_("the seconds for a pour"),
    "route": N_("the route"),
    "samples": N_("the samples"),
    "step": N_("the step between starts"),
    "talk_minutes": N_("the minutes of talk for a sample"),
    "walk_minutes": N_("the minutes of walking"),
    "gross_g": N_("the weight in g"),
    "density_g_ml": N_("the density in g/mL"),
    "weights_g": N_("the weights in g"),
    "widest": N_("the widest interval"),
}


NEEDED: Mapping[Need, str] = {
    Need.A_PART_WITH_VOLUME: N_("one part or more with something in it"),
    Need.A_RECEIPT_WITH_ALCOHOL: N_("one receipt or more with alcohol in it"),
    Need.CASKS_WITH_LOSS_RATE: N_("casks with spirit, in stores with a loss rate"),
    Need.FALLING_READINGS: N_("readings that fall"),
    Need.FILL_WITH_GAUGE: N_("one fill or more with a gauge above 0"),
    Need.FILLED_CASK: N_("a cask with something in it"),
    Need.FINITE_NUMBER: N_("a number of minutes"),
    Need.FIRST_GAUGE: N_("a gauge of what was put in"),
    Need.HEARTS_BETWEEN_READINGS: N_("two readings with hearts run off between them"),
    Need.HYDROMETER_AFTER_YEAST: N_("a hydrometer once yeast is in"),
    Need.KNOWN_STRENGTH: N_("a strength that is known, or that of the spirit before fruit and water"),
    Need.NO_LOOP: N_("draws that never lead back to the batch"),
    Need.NUMBER_OF_DRINKS: N_('a number with "drinks"'),
    Need.ONE_READING: N_("one reading or more"),
    Need.THREE_FALLING_READINGS: N_("three readings or more on the way down"),
    Need.TWO_CASKS_GAUGED_TWICE: N_("two casks or more of the store gauged twice"),
    Need.WHAT_FITS_THE_KIND: N_("what fits the kind of the limit"),
    Need.VOLUME_WITH_UNIT: N_('a number with "mL", "cL", "L" or "fl oz"'),
}


def sentence(error: object, words: Words) -> str:
    """Return the sentence for an error in the reader's language.

    Errors of this project carry `message` (marked for the catalogs) and `facts`; a FigureError
    its field, value, reason and what is allowed. Any other error gives no details away.
    """
    if isinstance(error, FigureError):
        return _figure_sentence(error, words)
    message, facts = getattr(error, "message", None), getattr(error, "facts", {})
    if not isinstance(message, str):
        return words.gettext(UNFORESEEN)
    return words.gettext(message, **{name: fact_text(value, words) for name, value in facts.items()})


def fact_text(value: object, words: Words) -> str:
    """Return one value of an error as text: numbers, dates, ranges and lists in the reader's locale."""
    if isinstance(value, bool) or value is None:
        return str(value)
    if isinstance(value, int | float | Decimal):
        return formats.plain_number(value, words)
    if isinstance(value, datetime):
        day = formats.day(value.date(), words)
        return f"{day}, {formats.time(value, value.tzinfo, words)}" if value.tzinfo else day
    if isinstance(value, date):
        return formats.day(value, words)
    if isinstance(value, Need):
        return words.gettext(NEEDED[value])
    if isinstance(value, Bounds):
        return _bounds_text(value, words)
    if isinstance(value, list | tuple | set | frozenset):
        return ", ".join(fact_text(each, words) for each in value)
    return str(value)


def _figure_sentence(error: FigureError, words: Words) -> str:
    message = FIGURE_REASONS.get(error.reason, FIGURE_REASONS["out_of_range"])
    text = words.gettext(
        message,
        field=words.gettext(FIELDS[error.field]) if error.field in FIELDS else error.field,
        value=fact_text(error.value, words),
        allowed=fact_text(error.allowed, words),
    )
    return text[:1].upper() + text[1:]


def _bounds_text(bounds: Bounds, words: Words) -> str:
    low, high = _bound(bounds.low, words), _bound(bounds.high, words)
    unit = f" {bounds.unit}" if bounds.unit else ""
    if not high:
        return words.gettext(_ABOVE if bounds.above else _OR_MORE, least=low + unit)
    if low == high:
        return low + unit
    message = _UP_TO if not low else _ABOVE_TO if bounds.above else _FROM_TO
    return words.gettext(message, low=low, high=high + unit)


_FROM_TO, _ABOVE_TO = N_("{low} to {high}"), N_("above {low} to {high}")
_OR_MORE, _ABOVE, _UP_TO = N_("{least} or more"), N_("above {least}"), N_("up to {high}")


def _bound(value: float | date | None, words: Words) -> str:
    if value is None:
        return ""
    return fact_text(value if isinstance(value, date) else Decimal(f"{value:g}"), words)
