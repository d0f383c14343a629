"""From readings to what the tables keep: volumes and pure alcohol at 20 °C, as whole millilitres."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from kiosk.figures import strength
from kiosk.production.records.faults import FaultCode, ValueFault
from kiosk.production.records.fields import Values

TareOf = Callable[[str], int | None]
"""Returns the tare in grams of the cask that a fill lies in, by the fill's code."""
MEASURES = {"cane_kg": "cane_g", "sugar_kg": "sugar_g", "alcohol_l": "alcohol_ml"}
_MEASURE_INTO = {"load": "cane_kg", "wash": "sugar_kg"}


def needed(values: Values, column: str) -> Any:
    """Return a value that only this kind of measurement cannot do without. Raises ValueFault."""
    if values[column] is None:
        raise ValueFault(FaultCode.NO_VALUE, column)
    return values[column]


def abv_percent(values: Values, *, as_read: bool = False) -> float:
    """Return % vol at 20 °C of a reading, its scale and its temperature.

    With `as_read` the temperature may stay unknown, and the reading is then not corrected for it.
    `certificate` beside them, where there is one, corrects both (`Instruments.read_with`). Raises ValueFault.
    """
    scale, reading = needed(values, "scale"), needed(values, "reading")
    if not scale.endswith("proof60") and reading > 100:
        raise ValueFault(FaultCode.ABOVE_PURE, "reading")
    certificate = values.get("certificate", strength.AS_READ)
    temperature_c = values["temperature_c"] if as_read else needed(values, "temperature_c")
    return _reading_abv_percent(scale, reading, temperature_c, certificate)


# Readings are written to a tenth or a half, so that few differ in a large file.
_reading_abv_percent = lru_cache(20_000)(strength.reading_abv_percent)


@lru_cache(20_000)
def _share_at_20(abv: float, temperature_c: float) -> float:
    """Return what one liter at a temperature is at 20 °C."""
    return strength.volume_at(1.0, abv, temperature_c, 20.0)


def spirit(values: Values, tare_of: TareOf | None = None) -> dict[str, int]:
    """Return volume and pure alcohol at 20 °C of a measured volume and a reading. Raises ValueFault."""
    abv = abv_percent(values)
    share = _share_at_20(abv, needed(values, "volume_temperature_c"))
    return at_20(needed(values, "volume_l") * share, abv)


def spirit_if_measured(values: Values, tare_of: TareOf | None = None) -> dict[str, int | None]:
    """Return volume and pure alcohol at 20 °C, or neither where no volume was taken. Raises ValueFault."""
    return {"volume20_ml": None, "alcohol_ml": None} if values["volume_l"] is None else {**spirit(values)}


def taken_out(values: Values, tare_of: TareOf) -> dict[str, int | None]:
    """Return what left a cask at 20 °C, the store only where it moves to one. Raises ValueFault."""
    if values["kind"] != "move":
        return {**spirit_if_measured(values), "store_id": None}
    needed(values, "to_store")
    return spirit_if_measured(values)


def strength_alone(values: Values, tare_of: TareOf) -> dict[str, object]:
    """Return no column: a reading that makes no strength is a fault, not a record. Raises ValueFault."""
    abv_percent(values, as_read=True)
    return {}


def nothing(values: Values, tare_of: TareOf) -> dict[str, object]:
    """Return no column: the fields say it all."""
    return {}


def gauged(values: Values, tare_of: TareOf) -> dict[str, int]:
    """Return volume and pure alcohol at 20 °C of a cask, dipped or weighed. Raises ValueFault.

    What was read at an unknown temperature stands as it was read.
    """
    abv = abv_percent(values, as_read=True)
    if values["how"] != "weight":
        warmth_c = values["volume_temperature_c"]
        share = 1.0 if warmth_c is None else _share_at_20(abv, warmth_c)
        return at_20(needed(values, "volume_l") * share, abv)
    tare_g = tare_of(values["fill"])
    if tare_g is None:
        raise ValueFault(FaultCode.NO_TARE, "fill")
    net_kg = needed(values, "gross_kg") - tare_g / 1000
    return at_20(strength.volume_of_mass(net_kg, abv, 20.0), abv)


def drawn(values: Values, tare_of: TareOf | None = None) -> dict[str, object]:
    """Return measure and amount of a draw: the measure is the destination's. Raises ValueFault."""
    given = [column for column in MEASURES if values[column] is not None]
    wanted = _MEASURE_INTO.get(values["to_kind"], "alcohol_l")
    if not given:
        raise ValueFault(FaultCode.NO_MEASURE, wanted, wanted=wanted)
    if len(given) > 1:
        raise ValueFault(FaultCode.ONE_MEASURE, wanted, found=len(given))
    if given[0] != wanted:
        raise ValueFault(FaultCode.NOT_THE_MEASURE, given[0], wanted=wanted)
    return {"measure": MEASURES[wanted], "amount": round(values[wanted] * 1000)}


def at_20(volume_l: float, abv: float) -> dict[str, int]:
    """Return the columns of a volume at 20 °C in litres and its strength in % vol."""
    alcohol_l = strength.pure_alcohol_l(volume_l, abv)
    return {"volume20_ml": round(volume_l * 1000), "alcohol_ml": round(alcohol_l * 1000)}
