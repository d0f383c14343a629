"""Patterns of tours: weekdays and hours over weeks, previewed, then made in one transaction.

Hours are those of the clock on the wall: a tour at ten stays at ten when the clock is changed.
All tours of one pattern carry the same series, by which the rest of it is changed or canceled together.
"""

import secrets
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from sqlalchemy.orm import Session

from kiosk.figures.tours.timetable import Plan, Stop
from kiosk.site.settings import Site, instants_of
from kiosk.store import rows
from kiosk.store.tables.tours import tours
from kiosk.tours.calendar.days import ServiceDay, service_days_of
from kiosk.tours.day import tours_between
from kiosk.tours.planning.effects import NEW, Effects, Walk, reckon, samples_of, shown_mark, walks_of
from kiosk.tours.planning.tours import (
    LATEST,
    ROUTE,
    TourDraft,
    TourFaults,
    free_letters,
    require_plannable,
    sign_off_guide,
    tour_values,
)
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault

MOST_TOURS = 400
"""The most tours that one pattern makes."""
LINES = 3
"""The lines of a pattern: hours in one language each."""

NO_DAYS = N_("Choose at least one weekday.")
NO_HOURS = N_("“{typed}” is not a list of times. Write them like 10:00, 14:30.")
NO_LANGUAGE = N_("Choose one of: {allowed}.")
NO_LINE = N_("Enter the weekdays and hours of at least one line.")
NO_DATE = N_("“{typed}” is not a day that can be used. Allowed: {first} to {last}.")
TOO_MANY = N_("These are {n} tours. Allowed: at most {most} at once; choose an earlier last day.")


class Outcome(StrEnum):
    """What becomes of one tour of a pattern."""

    NEW = "new"
    CLASHES = "clashes"
    SAME = "same"  # planned already, at this time and in this language
    CLOSED = "closed"
    NO_SUCH_TIME = "no_such_time"  # the clock jumps over it on that day


class PreviewOutdated(Exception):
    """A pattern would do something else than its preview showed."""

    status = 409
    message = N_("The plan of these days has changed since you looked. Look again before you say yes.")
    facts: Mapping[str, object] = {}


@dataclass(frozen=True, slots=True)
class PatternLine:
    """Hours of a pattern in one language: on these weekdays (Monday 0), at these times of the wall clock."""

    weekdays: frozenset[int]
    hours: tuple[time, ...]
    language: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern of tours from the first to the last day; `draft` has what all its tours share."""

    first: date
    last: date
    lines: tuple[PatternLine, ...]
    draft: TourDraft


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One tour of a pattern: its day and time on the wall, its instant, and what becomes of it."""

    wall: datetime
    language: str
    outcome: Outcome
    starts_at: datetime | None = None
    effects: Effects | None = None


@dataclass(frozen=True, slots=True)
class Preview:
    """What a pattern would make, in order of time."""

    occurrences: tuple[Occurrence, ...]

    def of(self, outcome: str) -> list[Occurrence]:
        """Return the tours that an outcome awaits."""
        return [one for one in self.occurrences if one.outcome == outcome]

    @property
    def mark(self) -> str:
        """A digest of what was shown."""
        shown = [(one.wall, one.language, one.outcome) for one in self.occurrences]
        return shown_mark(shown)


def pattern_faults(site: Site, pattern: Pattern, now: datetime) -> dict[str, Fault]:
    """Return what is wrong with the days of a pattern that was read."""
    first, last = site.service_day(now), site.local(now + LATEST).date()
    faults: dict[str, Fault] = {}
    if not first <= pattern.first <= last:
        faults["first"] = (NO_DATE, {"typed": pattern.first, "first": first, "last": last})
    if not pattern.first <= pattern.last <= last:
        faults["last"] = (NO_DATE, {"typed": pattern.last, "first": pattern.first, "last": last})
    if not faults and (n := sum(1 for _ in _walls(pattern))) > MOST_TOURS:
        faults["last"] = (TOO_MANY, {"n": n, "most": MOST_TOURS})
    if not pattern.lines:
        faults["lines"] = (NO_LINE, {})
    return faults


def preview(session: Session, site: Site, route: Sequence[Stop], pattern: Pattern, now: datetime) -> Preview:
    """Return what a pattern would make beside what is planned. Raises TourFaults for what cannot be planned.

    The number of queries does not depend on the number of tours.
    """
    faults = pattern_faults(site, pattern, now)
    if faults:
        raise TourFaults(faults)
    require_plannable(session, site, pattern.draft, now)
    begins, _ = site.day_bounds(pattern.first)
    _, ends = site.day_bounds(pattern.last)
    plans: dict[date, list[Plan]] = {}
    planned: set[tuple[datetime, str]] = set()
    there = tours_between(session, begins, ends)
    walks = walks_of(session, site, route, there, now)
    for row in there:
        if row.cancelled_at is None:
            planned |= {(row.starts_at, language) for language in row.languages}
        if row.id in walks:
            plans.setdefault(site.service_day(row.starts_at), []).append(walks[row.id].plan)
    days = service_days_of(session, site, [pattern.first - timedelta(days=1), *_days(pattern)])
    samples = samples_of(session, [pattern.draft.flight_id]).get(pattern.draft.flight_id or 0, 0)
    judge = _Judge(site, route, pattern.draft, plans, planned, days, samples, now)
    return Preview(tuple(judge.occurrence(wall, language) for wall, language in sorted(_walls(pattern))))


@dataclass
class _Judge:
    """Decides about the tours of a pattern one after the other; each counts for those after it."""

    site: Site
    route: Sequence[Stop]
    draft: TourDraft
    plans: dict[date, list[Plan]]
    planned: set[tuple[datetime, str]]
    days: Mapping[date, ServiceDay]
    samples: int
    now: datetime

    def occurrence(self, wall: datetime, language: str) -> Occurrence:
        instants = instants_of(wall, self.site.zone)
        if not instants or instants[0] <= self.now:
            return Occurrence(wall, language, Outcome.NO_SUCH_TIME)
        start = instants[0]
        if (start, language) in self.planned:
            return Occurrence(wall, language, Outcome.SAME, start)
        day = self.days.get(self.site.service_day(start))
        walk = Walk(NEW, start, self.draft.places or 1, tuple(self.route), self.draft.flight_id)
        if day is None or not day.receives(start, walk.ends):
            return Occurrence(wall, language, Outcome.CLOSED, start)
        others = self.plans.setdefault(day.day, [])
        effects = reckon(self.site, walk, others, day, self.samples)
        others.append(replace(walk.plan, group=f"{NEW} {wall:%H:%M}"))
        return Occurrence(wall, language, Outcome.CLASHES if effects.clashes else Outcome.NEW, start, effects)


def record_pattern(
    session: Session,
    site: Site,
    route: Sequence[Stop],
    pattern: Pattern,
    shown: str,
    *,
    with_clashes: bool,
    by: int,
    at: datetime,
) -> int:
    """Record the tours of a pattern whose preview had the mark `shown`, and return how many they are.

    Those that clash are made where the planner says so. Raises PreviewOutdated and TourFaults.
    """
    seen = preview(session, site, route, pattern, at)
    if seen.mark != shown:
        raise PreviewOutdated()
    chosen = seen.of(Outcome.NEW) + (seen.of(Outcome.CLASHES) if with_clashes else [])
    made = sorted((one.starts_at, one.language) for one in chosen if one.starts_at)
    letters = free_letters(session, site, {site.service_day(start) for start, _ in made}) if made else {}
    sign_off_guide(session, site, pattern.draft, by=by, at=at)
    series = secrets.token_hex(8)
    values = [
        {
            **tour_values(pattern.draft),
            "route": ROUTE,
            "starts_at": start,
            "languages": [language],
            "letter": next(letters[site.service_day(start)]),
            "series": series,
        }
        for start, language in made
    ]
    rows.insert_many(session, tours, values)
    return len(values)


def _days(pattern: Pattern) -> Iterator[date]:
    for n in range((pattern.last - pattern.first).days + 1):
        yield pattern.first + timedelta(days=n)


def _walls(pattern: Pattern) -> Iterator[tuple[datetime, str]]:
    """Yield day and time on the wall of every tour of a pattern, with its language."""
    for day in _days(pattern):
        for line in pattern.lines:
            if day.weekday() in line.weekdays:
                for hour in line.hours:
                    yield datetime.combine(day, hour), line.language
