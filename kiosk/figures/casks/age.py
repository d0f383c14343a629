"""Age: the completed years in oak of the youngest spirit in a lot, the only age that may be stated."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from kiosk.figures.errors import Bounds, FigureError
from kiosk.figures.making.lineage import inflows, upstream

Id = TypeVar("Id", bound=Hashable)

YEAR_DAYS = 366
"""The days of stays in several casks that make a further year: never too few, so that no age
is overstated."""


@dataclass(frozen=True, slots=True)
class Age:
    """The age of a lot.

    `years` are the completed years in oak of its youngest spirit, None when any
    part's is not known; `unknown` names those parts.
    """

    years: int | None
    unknown: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Draw(Generic[Id]):
    """A quantity taken from one batch into another on a day; `amount` in pure alcohol (or any measure)."""

    source: Id
    to: Id
    amount: float
    on: date


def stay_days(filled_on: date, drawn_on: date) -> int:
    """Return the length of a stay in oak: 366 for each completed calendar year, plus the remaining days.

    From `filled_on` to `drawn_on`; a fill of 29 February completes a year
    on 1 March where there is no such day. Raises FigureError `out_of_range` for a
    draw before the filling. Source: completed years by the calendar (common
    practice); 1 March as Maryland Code, General Provisions 1-303, counts birthdays.

    >>> stay_days(date(2020, 6, 16), date(2023, 6, 16)) == 3 * YEAR_DAYS
    True
    """
    filled, drawn = _day(filled_on), _day(drawn_on)
    if drawn < filled:
        raise FigureError("drawn_on", drawn, Bounds(filled))
    years = drawn.year - filled.year
    if _later(filled, years) > drawn:
        years -= 1
    return YEAR_DAYS * years + (drawn - _later(filled, years)).days


def _day(on: date) -> date:
    return date(on.year, on.month, on.day)


def _later(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 February in a common year
        return date(day.year + years, 3, 1)


def age(
    lot: Id,
    draws: Iterable[Draw[Id]],
    filled_on: Mapping[Id, date],
    received_years: Mapping[Id, int | None] | None = None,
) -> Age:
    """Return the age of `lot`: completed years in oak of the youngest spirit in it.

    `draws` lead to it, with their days (the site's own calendar); draws of
    amount 0, such as water in pure alcohol, are ignored. `filled_on` gives the
    day of every fill of a cask: only time from there to the draw out of it
    counts, so time in tanks does not. `received_years` gives the completed years
    that a supplier states for spirit from elsewhere, None where none is stated;
    spirit that is in neither came new from the still. Time in several casks adds
    up. Time grows with the draws, never with the paths. Raises FigureError
    `loop`, `out_of_range` for an amount or a draw before the filling.
    Source: Regulation (EU) 2019/787, Article 13 (from memory); Rev. Rul. 69-58
    under former 27 CFR 5.10: time in oak after distilling and before bottling.
    """
    stated = received_years or {}
    shortest: dict[tuple[Id, Id], int] = {}  # where several draws join two batches
    edges = []
    for draw in draws:
        edges.append((draw.source, draw.to, draw.amount))
        if draw.amount > 0.0:
            filled = filled_on.get(draw.source)
            stay = 0 if filled is None else stay_days(filled, draw.on)
            pair = draw.source, draw.to
            shortest[pair] = min(stay, shortest.get(pair, stay))
    into = inflows(edges)
    youngest: dict[Id, int] = {}
    unknown: list[object] = []
    for batch in reversed(_with_spirit(lot, into)):  # from the origins down
        if batch in stated:
            years = stated[batch]
            if years is None:
                unknown.append(batch)
            youngest[batch] = YEAR_DAYS * (years or 0)
            continue
        parts = (source for source, amount in into.get(batch, {}).items() if amount > 0.0)
        youngest[batch] = min((youngest[part] + shortest[part, batch] for part in parts), default=0)
    return Age(None if unknown else youngest[lot] // YEAR_DAYS, tuple(unknown))


def _with_spirit(lot: Id, into: Mapping[Id, Mapping[Id, float]]) -> list[Id]:
    """Return the lot and every batch that its spirit came through, each after those it was drawn into."""
    part = {
        batch: {source: amount for source, amount in amounts.items() if amount > 0.0}
        for batch, amounts in into.items()
    }
    return upstream(lot, part)
