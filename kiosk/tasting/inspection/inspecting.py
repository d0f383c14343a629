"""What an inspection asks of a span of service days, read at once: no guest is named in it.

What was served in an inspected span, counted by day, product, hour and guest number.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import Row, Select, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.settings import Site
from kiosk.store.tables.staff import permits, staff
from kiosk.store.tables.tasting import approvals, policies, pour_marks, refusals, shift_closings
from kiosk.store.tables.tours import guests, marks, tours
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules.day_restrictions import GivenRestriction, of_days
from kiosk.tasting.rules.judging import Verdict, judge, policies_of
from kiosk.words.catalogs import N_

LONGEST = 93
"""Days of one report: a quarter. More is asked for in parts."""

CHECKS = ("id_check", "under_age")
ENDINGS = ("service_stopped", "service_resumed")


class SpanRefused(TastingError):
    """No report is made of these days."""

    message = N_("Give two days, the first not after the second and none to come, at most {n} days in all.")


@dataclass(frozen=True, slots=True)
class Version:
    """A confirmed version of the rules; `policy` is None where this release cannot read it."""

    key: str
    digest: str
    confirmed_at: datetime
    confirmed_by: int | None
    policy: ServicePolicy | None


@dataclass(frozen=True, slots=True)
class Inspection:
    """A span of service days as the records tell it. Rows carry ids of staff and numbers of guests."""

    first: date
    last: date
    versions: Sequence[Version]  # the first may have been confirmed before the span
    policies: Mapping[str, ServicePolicy | None]  # every version that ever was, by its key
    day_restrictions: Mapping[date, Sequence[GivenRestriction]]  # a manager's, by service day
    verdicts: Sequence[Verdict]
    numbers: Mapping[int, tuple[date, int]]  # service day and number, by guest
    corrected: Mapping[str, Sequence[Row[Any]]]  # what was said later of a pour, by its key
    marks: Sequence[Row[Any]]  # documents seen, under age, service ended and taken up again
    refusals: Sequence[Row[Any]]
    shift_closings: Sequence[Row[Any]]
    approvals: Sequence[Row[Any]]
    permits: Sequence[Row[Any]]
    guides: Mapping[int, int]  # tours led in the span, by who led
    names: Mapping[int, str]  # of staff


def demand_span(site: Site, first: date, last: date, now: datetime) -> None:
    """Raise SpanRefused for days that make no report."""
    if not first <= last <= site.service_day(now) or (last - first).days >= LONGEST:
        raise SpanRefused(n=LONGEST)


def inspect(session: Session, site: Site, first: date, last: date) -> Inspection:
    """Read everything about the service days from `first` to `last`, both counted."""
    since, until = site.day_bounds(first)[0], site.day_bounds(last)[1]
    verdicts, read = judge(session, site, since, until), policies_of(session)
    concerned = _in_span(session, _marked(), marks.c.at, since, until)
    refused = _in_span(session, _refused(), refusals.c.at, since, until)
    later = defaultdict(list)
    for row in session.execute(_corrections().where(pour_marks.c.at >= since - timedelta(days=1))):
        later[row.pour_key].append(row)
    g = guests.c
    of_day = select(g.id, g.day, g.number).where(g.day >= first - timedelta(days=1), g.day <= last)
    return Inspection(
        first=first,
        last=last,
        versions=_versions(session, read, since, until),
        policies=read,
        day_restrictions=of_days(session, first, last),
        verdicts=verdicts,
        numbers={row.id: (row.day, row.number) for row in session.execute(of_day)},
        corrected=later,
        marks=concerned,
        refusals=refused,
        shift_closings=_closings(session, first, last),
        approvals=_approvals(session, first, last),
        permits=_permits(session, first, last),
        guides=_guides(session, since, until),
        names=dict(session.execute(select(staff.c.id, staff.c.name)).all()),
    )


def _in_span(
    session: Session, wanted: Select[Any], at: Any, since: datetime, until: datetime
) -> list[Row[Any]]:
    return list(session.execute(wanted.where(at >= since, at < until).order_by(at)))


def _marked() -> Select[Any]:
    m = marks.c
    return select(m.guest_id, m.at, m.kind, m.by, m.detail).where(m.kind.in_((*CHECKS, *ENDINGS)))


def _refused() -> Select[Any]:
    r = refusals.c
    found = select(r.guest_id, r.at, r.product, r.volume_ul, r.reasons, r.policy_key, r.by, tours.c.room)
    return found.join_from(refusals, guests, r.guest_id == guests.c.id).join(
        tours, guests.c.tour_id == tours.c.id
    )


def _corrections() -> Select[Any]:
    c = pour_marks.c
    return select(c.pour_key, c.at, c.kind, c.guest_id, c.by).order_by(c.at, c.key)


def _versions(
    session: Session, read: Mapping[str, ServicePolicy | None], since: datetime, until: datetime
) -> list[Version]:
    """Return the version in force as the span begins and those confirmed within it."""
    p = policies.c
    rows = session.execute(
        select(p.key, p.digest, p.at, p.by).where(p.by.is_not(None), p.at < until).order_by(p.at, p.key)
    ).all()
    before = [row for row in rows if row.at < since][-1:]
    asked = [*before, *(row for row in rows if row.at >= since)]
    return [Version(row.key, row.digest, row.at, row.by, read[row.key]) for row in asked]


def _closings(session: Session, first: date, last: date) -> list[Row[Any]]:
    c = shift_closings.c
    wanted = select(c.room, c.day, c.revision, c.at, c.by, c.body).where(c.day >= first, c.day <= last)
    return list(session.execute(wanted.order_by(c.day, c.room, c.revision)))


def _approvals(session: Session, first: date, last: date) -> list[Row[Any]]:
    r = approvals.c
    holds = (r.from_on <= last, or_(r.until_on.is_(None), r.until_on >= first))
    return list(session.execute(select(approvals).where(*holds).order_by(r.product, r.code)))


def _permits(session: Session, first: date, last: date) -> list[Row[Any]]:
    p = permits.c
    wanted = select(permits).where(p.valid_from <= last, p.valid_until >= first)
    return list(session.execute(wanted.order_by(p.staff_id, p.kind, p.valid_from)))


def _guides(session: Session, since: datetime, until: datetime) -> Mapping[int, int]:
    t = tours.c
    led = select(t.guide_id).where(t.guide_id.is_not(None), t.cancelled_at.is_(None))
    found: dict[int, int] = defaultdict(int)
    for guide in session.scalars(led.where(t.starts_at >= since, t.starts_at < until)):
        found[guide] += 1
    return found


K = TypeVar("K", bound=Hashable)


@dataclass(slots=True)
class Tally:
    """Servings added up; `ethanol` in 1e-4 µL."""

    samples: int = 0
    volume_ul: int = 0
    ethanol: int = 0
    against: int = 0  # servings with a reason against them
    first: datetime | None = None
    last: datetime | None = None
    guests: set[int] = field(default_factory=set)

    def add(self, one: Verdict) -> None:
        """Count one serving; verdicts come in order of time."""
        self.samples += 1
        self.volume_ul += one.served.volume_ul
        self.ethanol += one.served.ethanol
        self.against += bool(one.reasons)
        self.first = self.first or one.served.at
        self.last = one.served.at
        self.guests.add(one.served.guest_id)


def tallied(found: Iterable[Verdict], key: Callable[[Verdict], K]) -> Mapping[K, Tally]:
    """Add servings up by a key, in the order in which the keys first come."""
    tallies: dict[K, Tally] = defaultdict(Tally)
    for one in found:
        tallies[key(one)].add(one)
    return tallies


def by_day(told: Inspection, site: Site) -> Mapping[date, Tally]:
    """Return what was served by service day."""
    return tallied(told.verdicts, lambda one: site.service_day(one.served.at))


def by_product(told: Inspection) -> Mapping[str, Tally]:
    """Return what was served by glass: a product or a recipe."""
    return dict(sorted(tallied(told.verdicts, lambda one: one.served.glass).items()))


def by_hour(told: Inspection, site: Site) -> Mapping[int, Tally]:
    """Return what was served by hour of the site's clock, all days together, from the day's first hour on."""
    found = tallied(told.verdicts, lambda one: site.local(one.served.at).hour)
    return dict(sorted(found.items(), key=lambda item: (item[0] - site.day_starts.hour) % 24))


def by_guest(told: Inspection, site: Site) -> Mapping[tuple[date, int], Tally]:
    """Return what was served by service day and guest; a guest's number is unique within a day."""
    found = tallied(told.verdicts, lambda one: (site.service_day(one.served.at), one.served.guest_id))
    return dict(sorted(found.items(), key=lambda item: (item[0][0], number(told, item[0][1]))))


def number(told: Inspection, guest_id: int) -> int:
    """Return a guest's number, 0 for one whose number is of days before the span."""
    return told.numbers[guest_id][1] if guest_id in told.numbers else 0
