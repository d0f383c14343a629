"""From a line's readings to what the tables keep: whole numbers at 20 °C."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from kiosk.figures import strength
from kiosk.production.importing.faults import Unreadable
from kiosk.words.catalogs import N_

Cells = Mapping[str, Any]
TareOf = Callable[[str], int | None]
"""Finds the tare in grams of the cask that a fill lies in, by the fill's code."""

NO_TARE = N_("{file}, row {row}, {column}: the cask of {found} has no tare. Write its tare into casks.csv.")
NO_VALUE = N_("{file}, row {row}, {column}: the cell is empty. A measurement of this kind needs this value.")
ONE_MEASURE = N_("{file}, row {row}, {column}: {found} values are given. Give one of cane, sugar or alcohol.")
NOT_THE_MEASURE = N_(
    "{file}, row {row}, {column}: what goes into this batch is measured otherwise. Fill {wanted} instead."
)
ABOVE_PURE = N_(
    "{file}, row {row}, {column}: {found} % vol is more than pure alcohol. Check the reading and its scale."
)


class Ref(NamedTuple):
    """A record named by its code, turned into its id when it is written."""

    kind: str
    code: str
    column: str


def milli(value: float | None) -> int | None:
    """Return thousandths as a whole number: litres to mL, kg to g, °C to m°C."""
    return None if value is None else round(value * 1000)


def hundredths(value: float | None) -> int | None:
    """Return hundredths as a whole number."""
    return None if value is None else round(value * 100)


def abv_percent(cells: Cells) -> float:
    """Return % vol at 20 °C of a reading, its scale and its temperature.

    `certificate` beside them, where there is one, corrects both (`instruments.read_with`).
    """
    scale, reading = needed(cells, "scale"), needed(cells, "reading")
    if not scale.endswith("proof60") and reading > 100:
        raise Unreadable(ABOVE_PURE, "reading")
    certificate = cells.get("certificate", strength.AS_READ)
    return _reading_abv_percent(scale, reading, needed(cells, "temperature_c"), certificate)


# Readings are written to a tenth or a half, so that few differ in a large file.
_reading_abv_percent = lru_cache(20_000)(strength.reading_abv_percent)


@lru_cache(20_000)
def _share_at_20(abv: float, temperature_c: float) -> float:
    """Return what one liter at a temperature is at 20 °C."""
    return strength.volume_at(1.0, abv, temperature_c, 20.0)


def needed(cells: Cells, column: str) -> Any:
    """Return a value that only this kind of line cannot do without."""
    if cells[column] is None:
        raise Unreadable(NO_VALUE, column)
    return cells[column]


def spirit(cells: Cells) -> dict[str, int]:
    """Return volume and pure alcohol at 20 °C of a measured volume and a reading."""
    abv = abv_percent(cells)
    shrinks = _share_at_20(abv, needed(cells, "volume_temperature_c"))
    return _at_20(needed(cells, "volume_l") * shrinks, abv)


def some_spirit(cells: Cells) -> dict[str, int | None]:
    """Return volume and pure alcohol at 20 °C, or neither where no volume was taken."""
    return {"volume20_ml": None, "alcohol_ml": None} if cells["volume_l"] is None else {**spirit(cells)}


def as_read(cells: Cells) -> dict[str, object]:
    """Return volume and reading as they were taken, kept beside what they are at 20 °C."""
    warm = {
        "volume_ml": milli(cells["volume_l"]),
        "volume_temperature_mc": milli(cells["volume_temperature_c"]),
    }
    return {**warm, **reading(cells)}


def gauged(cells: Cells, tare_of: TareOf) -> dict[str, int]:
    """Return volume and pure alcohol at 20 °C of a cask, dipped or weighed."""
    if cells["how"] != "weight":
        return spirit(cells)
    tare_g = tare_of(cells["fill"])
    if tare_g is None:
        raise Unreadable(NO_TARE, "fill")
    abv = abv_percent(cells)
    net_kg = needed(cells, "gross_kg") - tare_g / 1000
    return _at_20(strength.volume_of_mass(net_kg, abv, 20.0), abv)


def reading(cells: Cells) -> dict[str, object]:
    """Return a strength reading as it was taken, kept beside what was made of it."""
    return {
        "instrument_id": cells.get("instrument_id"),
        "scale": cells["scale"],
        "reading_e2": hundredths(cells["reading"]),
        "temperature_mc": milli(cells["temperature_c"]),
    }


MEASURES = {"cane_kg": "cane_g", "sugar_kg": "sugar_g", "alcohol_l": "alcohol_ml"}
_MEASURE_INTO = {"load": "cane_kg", "wash": "sugar_kg"}


def drawn(cells: Cells) -> dict[str, object]:
    """Return measure and amount of a draw: the measure is the destination's."""
    given = [column for column in MEASURES if cells[column] is not None]
    wanted = _MEASURE_INTO.get(cells["to_kind"], "alcohol_l")
    if len(given) != 1:
        raise Unreadable(ONE_MEASURE, wanted, found=len(given))
    if given[0] != wanted:
        raise Unreadable(NOT_THE_MEASURE, given[0], wanted=wanted)
    return {"measure": MEASURES[wanted], "amount": milli(cells[wanted])}


def _at_20(volume_l: float, abv: float) -> dict[str, int]:
    alcohol_l = strength.pure_alcohol_l(volume_l, abv)
    return {"volume20_ml": round(volume_l * 1000), "alcohol_ml": round(alcohol_l * 1000)}
