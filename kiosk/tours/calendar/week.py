"""A week at a glance: its days with their tours, and the clashes if every place is booked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.figures.tours.timetable import Stop, clashes
from kiosk.site.settings import Site
from kiosk.tours.calendar.days import ServiceDay, service_days_of
from kiosk.tours.day import tours_between
from kiosk.tours.planning.effects import Walk, walks_of


@dataclass(frozen=True, slots=True)
class WeekDay:
    """A day of a week: what is known of it, its tours in order, and how many stops its groups clash at."""

    known: ServiceDay
    tours: tuple[Row[Any], ...]
    clashes: int


def week_days(
    session: Session, site: Site, route: Sequence[Stop], days: Sequence[date], now: datetime
) -> list[WeekDay]:
    """Return the days of a week, in three queries however many tours there are."""
    known = service_days_of(session, site, days)
    rows = tours_between(session, site.day_bounds(days[0])[0], site.day_bounds(days[-1])[1])
    by_day: dict[date, list[Row[Any]]] = {day: [] for day in days}
    for row in rows:
        by_day[site.service_day(row.starts_at)].append(row)
    walks = walks_of(session, site, route, rows, now)
    return [WeekDay(known[day], tuple(by_day[day]), _clashes(by_day[day], walks)) for day in days]


def _clashes(tours: Sequence[Row[Any]], walks: Mapping[int, Walk]) -> int:
    plans = [walks[row.id].plan for row in tours if row.id in walks]
    return len({(clash.slug, clash.groups) for clash in clashes(plans)})
