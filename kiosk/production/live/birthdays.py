"""On which days of the year a cask was filled: 'one was filled on your birthday'. Nothing asked is kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.figure import CachedQuery, FigureReader
from kiosk.site.settings import Site
from kiosk.store.tables.production import fills

FilledOn = Mapping[tuple[int, int], tuple[int, ...]]
"""By day and month the years in which casks were filled, one for each cask, earliest first."""


def _filled_on(session: Session, site: Site, now: datetime) -> FilledOn:
    found: dict[tuple[int, int], list[int]] = defaultdict(list)
    times = select(fills.c.filled_at).where(fills.c.filled_at <= now).order_by(fills.c.filled_at)
    for filled_at in session.scalars(times):
        on = site.local(filled_at).date()
        found[on.day, on.month].append(on.year)
    return {day: tuple(years) for day, years in found.items()}


FILLED_ON = CachedQuery(frozenset({"casks"}), 24 * 3600, _filled_on)


def casks_filled_on(figures: FigureReader, day: int, month: int) -> tuple[int, ...]:
    """Return the year of every cask filled on a day of the year, () on a day that the calendar lacks.

    29 February answers for itself only: a cask filled on 1 March is another day's.
    """
    return figures.cached(FILLED_ON).get((day, month), ())
