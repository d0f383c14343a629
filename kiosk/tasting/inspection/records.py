"""Everything that an inspection asks of a span of service days, and its pours added up.

No guest is named: rows carry ids of staff and numbers of guests.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import Row, Select, func, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.typed_in import TypedIn, typed_in
from kiosk.figures.drinks import ServicePolicy
from kiosk.site.settings import Site
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import approvals, policies, pour_marks, pours, refusals, shift_closings
from kiosk.store.tables.tours import guests, marks, tours
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules.judging import Verdict, judge, policies_by_key
from kiosk.tasting.rules.policy import GivenRestriction, of_days
from kiosk.tasting.shift_closing.closing import staff_names
from kiosk.words.catalogs import N_

LONGEST = 93
"""Days of one report: a quarter. More is asked for in parts."""

CHECKS = ("id_check", "under_age", "void")
ENDINGS = ("service_stopped", "service_resumed")


class SpanRefused(TastingError):
    """Raised for days of which no report is made."""

    message = N_("Give two days up to today, the first not after the second, at most {n} days in all.")


@dataclass(frozen=True, slots=True)
class Inspection:
    """The records of a span of service days. Rows carry ids of staff and numbers of guests."""

    first: date
    last: date
    versions: Sequence[Row[Any]]  # of the rules; the first may have been confirmed before the span
    policies: Mapping[str, ServicePolicy | None]  # all, by key; None for one that cannot be read any more
    day_restrictions: Mapping[date, Sequence[GivenRestriction]]  # a manager's, by service day
    verdicts: Sequence[Verdict]
    numbers: Mapping[int, tuple[date, int]]  # service day and number, by id of the guest
    corrections: Sequence[Row[Any]]  # of the pours of the span, each with its glass and guest
    corrected: Mapping[str, Sequence[Row[Any]]]  # what was entered about a pour later, by its key
    marks: Sequence[Row[Any]]  # ID checks, under age, service stopped and resumed
    refusals: Sequence[Row[Any]]
    shift_closings: Sequence[Row[Any]]
    approvals: Sequence[Row[Any]]
    permits: Sequence[Row[Any]]
    guides: Mapping[int, int]  # tours led in the span, by id of the guide
    names: Mapping[int, str]  # of staff, by id
    typed_in: Mapping[str, TypedIn]  # who typed in an entry for a tablet, by its key


def check_span(site: Site, first: date, last: date, now: datetime) -> None:
    """Raise SpanRefused unless `first` to `last` are days in order, none to come, at most LONGEST of them."""
    if not first <= last <= site.service_day(now) or (last - first).days >= LONGEST:
        raise SpanRefused(n=LONGEST)


def read_inspection(session: Session, site: Site, first: date, last: date) -> Inspection:
    """Return the records of the service days from `first` to `last`, both included."""
    since, until = site.day_bounds(first)[0], site.day_bounds(last)[1]
    m, r, g = marks.c, refusals.c, guests.c
    marked = select(marks).where(m.kind.in_((*CHECKS, *ENDINGS)), m.at >= since, m.at < until)
    refused = select(refusals).where(r.at >= since, r.at < until)
    entered = session.execute(_later_entries(since, until)).all()
    corrected = defaultdict(list)
    for row in entered:
        corrected[row.pour_key].append(row)
    verdicts = judge(session, site, since, until)
    marked_rows = _without_other_voids(session.execute(marked.order_by(m.at)).all())
    claimed = [one.key for one in (*(one.entry for one in verdicts), *marked_rows) if not one.server_checked]
    of_day = select(g.id, g.day, g.number).where(g.day >= first - timedelta(days=1), g.day <= last)
    return Inspection(
        first=first,
        last=last,
        versions=_versions(session, since, until),
        policies=policies_by_key(session),
        day_restrictions=of_days(session, first, last),
        verdicts=verdicts,
        numbers={row.id: (row.day, row.number) for row in session.execute(of_day)},
        corrections=[row for row in entered if row.kind != "seated"],
        corrected=corrected,
        marks=marked_rows,
        refusals=session.execute(refused.order_by(r.at)).all(),
        shift_closings=_closings(session, first, last),
        approvals=_approvals(session, first, last),
        permits=_permits(session, first, last),
        guides=_guides(session, since, until),
        names=staff_names(session),
        typed_in=typed_in(session, claimed),
    )


def _without_other_voids(marked: Sequence[Row[Any]]) -> Sequence[Row[Any]]:
    """Return marks with those voids that take back one of them; a void of another kind is not reported."""
    keys = {row.key for row in marked}
    return [row for row in marked if row.kind != "void" or row.detail in keys]


def _later_entries(since: datetime, until: datetime) -> Select[Any]:
    """Return the query for what was entered later about the pours of a span, in order of time."""
    p, c = pours.c, pour_marks.c
    glass = (func.coalesce(p.recipe, p.product).label("glass"), p.volume_ul, p.guest_id.label("poured_for"))
    entered = select(pour_marks, *glass).join_from(pour_marks, pours, p.key == c.pour_key)
    return entered.where(p.at >= since, p.at < until).order_by(c.at, c.key)


def _versions(session: Session, since: datetime, until: datetime) -> list[Row[Any]]:
    """Return the version in force as the span begins and those confirmed within it."""
    p = policies.c
    confirmed: Select[Any] = select(p.key, p.digest, p.at, p.by)
    confirmed = confirmed.where(p.by.is_not(None), p.at < until).order_by(p.at, p.key)
    rows = session.execute(confirmed).all()
    before = [row for row in rows if row.at < since][-1:]
    return [*before, *(row for row in rows if row.at >= since)]


def _closings(session: Session, first: date, last: date) -> list[Row[Any]]:
    c = shift_closings.c
    query = select(shift_closings).where(c.day >= first, c.day <= last)
    return list(session.execute(query.order_by(c.day, c.room, c.revision)))


def _approvals(session: Session, first: date, last: date) -> list[Row[Any]]:
    r = approvals.c
    holds = (r.from_on <= last, or_(r.until_on.is_(None), r.until_on >= first))
    return list(session.execute(select(approvals).where(*holds).order_by(r.product, r.code)))


def _permits(session: Session, first: date, last: date) -> list[Row[Any]]:
    p = permits.c
    query = select(permits).where(p.valid_from <= last, p.valid_until >= first)
    return list(session.execute(query.order_by(p.staff_id, p.kind, p.valid_from)))


def _guides(session: Session, since: datetime, until: datetime) -> Mapping[int, int]:
    t = tours.c
    led = select(t.guide_id).where(t.guide_id.is_not(None), t.cancelled_at.is_(None))
    return Counter(session.scalars(led.where(t.starts_at >= since, t.starts_at < until)))


K = TypeVar("K", bound=Hashable)


@dataclass(slots=True)
class Tally:
    """A sum of pours; `ethanol` in 1e-4 µL."""

    samples: int = 0
    volume_ul: int = 0
    ethanol: int = 0
    against: int = 0  # pours that broke a rule
    first: datetime | None = None
    last: datetime | None = None
    guests: set[int] = field(default_factory=set)

    def add(self, verdict: Verdict) -> None:
        """Add a pour, not earlier than those before."""
        self.samples += 1
        self.volume_ul += verdict.served.volume_ul
        self.ethanol += verdict.served.ethanol
        self.against += bool(verdict.reasons)
        self.first = self.first or verdict.served.at
        self.last = verdict.served.at
        self.guests.add(verdict.served.guest_id)


def tally_by(verdicts: Iterable[Verdict], key: Callable[[Verdict], K]) -> Mapping[K, Tally]:
    """Return the sums of pours by `key`, in the order in which the keys first come."""
    tallies: dict[K, Tally] = defaultdict(Tally)
    for verdict in verdicts:
        tallies[key(verdict)].add(verdict)
    return tallies


def guest_number(inspection: Inspection, guest_id: int) -> int:
    """Return a guest's number, or 0 for a guest of days before the span."""
    return inspection.numbers[guest_id][1] if guest_id in inspection.numbers else 0
