"""What a manager typed to release something, read as they write numbers and days."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import TypeVar

from kiosk.tasting.releasing import NEEDED, Entry, ReleaseFaults
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_
from kiosk.words.numbers import NumberFault, parse_number

T = TypeVar("T")

NO_DAY = N_("This is not a day of the calendar.")
MOST = Decimal(1_000_000)


def entry(typed: Mapping[str, str], rooms: tuple[str, ...], taken_mc: int | None, words: Words) -> Entry:
    """Return what a form says. Raises ReleaseFaults for numbers and days that cannot be read."""
    faults: dict[str, tuple[str, Mapping[str, object]]] = {}

    def read(name: str, reading: Callable[[str], T]) -> T | None:
        try:
            return reading(typed[name]) if typed.get(name) else None
        except NumberFault as fault:
            faults[name] = (fault.message, fault.facts)
        except ValueError:
            faults[name] = (NO_DAY, {})
        return None

    def times(factor: int) -> Callable[[str], int]:
        return lambda text: round(min(parse_number(text, words), MOST) * factor)

    from_on, until_on = read("from_on", date.fromisoformat), read("until_on", date.fromisoformat)
    found = Entry(
        **{name: typed.get(name, "") for name in ("code", "kind", "product", "source", "abv_basis")},
        **{name: typed.get(name, "") for name in ("document", "formula")},
        abv_e2=read("abv_percent", times(100)),
        density_e4=read("density", times(10_000)),
        rooms=rooms,
        from_on=from_on or date.min,
        until_on=until_on,
        taken_ul=read("taken_ml", times(1000)),
        taken_mc=taken_mc,
        nothing_added=bool(typed.get("nothing_added")),
    )
    if from_on is None and "from_on" not in faults:
        faults["from_on"] = (NEEDED, {})
    if faults:
        raise ReleaseFaults(faults)
    return found
