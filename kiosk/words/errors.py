"""Errors as sentences in the reader's language, from their facts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from kiosk.figures.errors import FigureError
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import plain_number

UNFORESEEN = N_("Something went wrong here. What was saved before is safe; please try again.")

FIGURE_REASONS: Mapping[str, str] = {
    "out_of_range": N_("{field} is {value}; allowed is {allowed}."),
    "freezing": N_("{field} is {value}: such a mixture would freeze; allowed is {allowed}."),
    "above_pure": N_("{field} is {value}: stronger than pure alcohol; allowed is {allowed}."),
    "holds_sugar": N_("{field} is {value}: sugar hides the strength, so a hydrometer cannot tell it."),
    "distil": N_("{field} is {value}: a hydrometer cannot tell this strength; allowed is {allowed}."),
    "alcohol_misleads": N_("{field} is {value}: alcohol misleads it; allowed is {allowed}."),
    "not_falling": N_("{field} is {value}: the gravity does not fall, so no end can be told."),
    "lighter_than_content": N_("{field} is {value}: a full bottle weighs more; allowed is {allowed}."),
    "too_few": N_("There are too few records to say: {field} is {value}; needed is {allowed}."),
}

FIELDS: Mapping[str, str] = {
    "temperature_c": N_("the temperature in °C"),
    "temperature_f": N_("the temperature in °F"),
    "from_c": N_("the temperature in °C"),
    "to_c": N_("the temperature in °C"),
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


_SPAN = re.compile(r"(-?[\d.]+) to (-?[\d.]+)(.*)")
_LEAST = re.compile(r"(-?[\d.]+)(.*) or more")


def sentence(error: object, words: Words) -> str:
    """Return what a reader is told of an error.

    Ours carry `message` (marked for the catalogs) and `facts`; a FigureError
    its field, value and reason. Any other error is told without its details.
    """
    if isinstance(error, FigureError):
        return _figure_sentence(error, words)
    message, facts = getattr(error, "message", None), getattr(error, "facts", {})
    if not isinstance(message, str):
        return words.gettext(UNFORESEEN)
    return words.gettext(message, **{name: fact_text(value, words) for name, value in facts.items()})


def fact_text(value: object, words: Words) -> str:
    """Return one fact of an error as text: numbers and days in the reader's locale."""
    if isinstance(value, bool) or value is None:
        return str(value)
    if isinstance(value, int | float | Decimal):
        return plain_number(value, words)
    if isinstance(value, datetime):
        day = formats.day(value.date(), words)
        return f"{day}, {formats.time(value, value.tzinfo, words)}" if value.tzinfo else day
    if isinstance(value, date):
        return formats.day(value, words)
    if isinstance(value, list | tuple | set | frozenset):
        return ", ".join(fact_text(each, words) for each in value)
    return str(value)


def _figure_sentence(error: FigureError, words: Words) -> str:
    message = FIGURE_REASONS.get(error.reason, FIGURE_REASONS["out_of_range"])
    text = words.gettext(
        message,
        field=words.gettext(FIELDS[error.field]) if error.field in FIELDS else error.field,
        value=fact_text(error.value, words),
        allowed=_allowed(error.allowed, words),
    )
    return text[:1].upper() + text[1:]


def _allowed(allowed: str, words: Words) -> str:
    """Return what a figure allows: its own words from the catalog, or the bounds that it was given."""
    if span := _SPAN.fullmatch(allowed):
        return words.gettext(
            "{low} to {high}", low=_bound(span[1], words), high=_bound(span[2], words) + span[3]
        )
    if least := _LEAST.fullmatch(allowed):
        return words.gettext("{least} or more", least=_bound(least[1], words) + least[2])
    return words.translations.gettext(allowed)


def _bound(digits: str, words: Words) -> str:
    return plain_number(Decimal(digits), words)
