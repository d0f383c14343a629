"""Judging recorded servings: the reasons against each, at its own time and under the policy of that time.

Verdicts are not stored: each is computed by `decide`, as a pour is. The records of the days are read
in a fixed number of queries; judging itself reads nothing.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Row, Select, and_, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import (
    STARTS_AND_FINISHES,
    Guest,
    Offer,
    Room,
    Served,
    ServicePolicy,
    counted,
    decide,
    start_and_finish,
    tighten,
)
from kiosk.site.policy_json import readable
from kiosk.site.settings import Site
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import approvals, policies, pour_marks, pours
from kiosk.store.tables.tours import bookings, guests, steps, tours
from kiosk.tasting.approvals.approvals import contents, covers
from kiosk.tasting.bottles.shelf import pour_of, read_pours
from kiosk.tasting.room.pouring import OTHER_DAY
from kiosk.tasting.rules.policy import NO_POLICY, for_room, of_days
from kiosk.tasting.rules.pour_context import guest_by_records, with_permits

_P = pours.c
_ENTRY = (_P.policy_key, _P.by, _P.asked, _P.recorded_at, _P.bottle_id, tours.c.room)

BEFORE = timedelta(days=1)
"""How far back an earlier serving may count against a later one."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One serving and the reasons against it.

    `entry` is its row of the ledger, with the room; `reasons` is None where this release cannot read the
    policy under which it was served.
    """

    served: Served
    entry: Row[Any]
    reasons: tuple[str, ...] | None


def judge(session: Session, site: Site, since: datetime, until: datetime, room: str = "") -> list[Verdict]:
    """Return the verdicts on servings from `since` until before `until`, in a room or all, by time."""
    return JudgingData(session, site, since, until).verdicts(room)


class JudgingData:
    """The records by which pours from `since` until before `until` are judged, all read at once.

    `entries` are the pours by their keys, those of the day before among them; each row has
    the columns of a `Pour` with its bottle, room, policy, server and time of recording.
    """

    def __init__(self, session: Session, site: Site, since: datetime, until: datetime) -> None:
        p = pours.c
        span = and_(p.at >= since - BEFORE, p.at < until)
        keys = select(p.key).where(span)
        self.site, self.since, self.until = site, since, until
        self.entries, self.corrections = read_pours(session, span, *_ENTRY)
        self.served = counted(map(pour_of, self.entries.values()), self.corrections)
        moved_to = select(pour_marks.c.guest_id).where(pour_marks.c.pour_key.in_(keys))
        whose = or_(guests.c.id.in_(select(p.guest_id).where(span)), guests.c.id.in_(moved_to))
        booked = select(guests.c.id, guests.c.day, bookings.c.ticket).join_from(guests, bookings)
        self.guests = {row.id: row for row in session.execute(booked.where(whose))}
        self.marks = marks_by_guest(session, select(guests.c.id).where(whose))
        self.steps = starts_and_finishes(session, select(p.tour_id).where(span))
        self.approvals = session.execute(select(approvals)).all()
        self.permits = session.execute(select(permits)).all()
        self.policies = policies_by_key(session)
        self.restrictions = of_days(session, site.service_day(since), site.service_day(until))

    def verdicts(self, room: str = "") -> list[Verdict]:
        """Return the verdicts on the servings of the span, in one room or in all, in order of time."""
        before: dict[int, list[Served]] = defaultdict(list)
        verdicts = []
        for one in self.served:
            earlier, entry = before[one.guest_id], self.entries[one.key]
            if self.since <= one.at < self.until and room in ("", entry.room):
                verdicts.append(Verdict(one, entry, self.reasons(one, earlier, entry.room)))
            earlier.append(one)
        return verdicts

    def reasons(self, one: Served, before: Sequence[Served], room: str) -> tuple[str, ...] | None:
        """Return the reasons against a serving after those `before` it; None under an unreadable policy."""
        if not one.ethanol:
            return ()
        entry, day = self.entries[one.key], self.site.service_day(one.at)
        outside = () if self.guests[one.guest_id].day == day else (OTHER_DAY,)
        if not entry.policy_key:
            return (NO_POLICY, *outside)
        policy = self.policies.get(entry.policy_key)
        if policy is None:
            return None
        by = entry.by if entry.server_checked else None  # a person only claimed lends nobody a permit
        pourer = with_permits(policy, by, self._permits(by, day))
        here = Room(room, *self.site.day_bounds(day), self.site.zone)
        given = for_room(self.restrictions.get(day, ()), room)
        rules = tighten(policy, [restriction for restriction in given if restriction.at <= one.at])
        guest, offer = self._guest(one, entry.tour_id), self._offer(one, room)
        decided = decide(rules, guest, before, pourer, here, one.at, offer)
        return (*outside, *decided.reasons)

    def _guest(self, one: Served, tour_id: int) -> Guest:
        marked = [mark for mark in self.marks[one.guest_id] if mark.at <= one.at]
        walked = start_and_finish(step for step in self.steps[tour_id] if step[1] <= one.at)
        return guest_by_records(marked, tour_id, walked, self.guests[one.guest_id].ticket)

    def _offer(self, one: Served, room: str) -> Offer:
        product = self.site.products.get(one.product)
        approved = any(
            row.product == one.product and covers(row, room, self.site, one.at) for row in self.approvals
        )
        own = product is None or product.own
        offer = Offer(one.product, one.volume_ul, one.abv_e2, one.neat, approved=approved, own=own)
        return replace(offer, liquids=contents(self.site, one.glass, offer).liquids)

    def _permits(self, staff_id: int | None, day: date) -> tuple[str, ...]:
        held = (p for p in self.permits if p.staff_id == staff_id)
        return tuple(p.kind for p in held if p.valid_from <= day <= p.valid_until)


def policies_by_key(session: Session) -> Mapping[str, ServicePolicy | None]:
    """Return every confirmed policy by its key; None for one that this release cannot read."""
    return {key: readable(body) for key, body in session.execute(select(policies.c.key, policies.c.body))}


def starts_and_finishes(
    session: Session, of: Select[Any] | Sequence[int]
) -> Mapping[int, list[tuple[str, datetime]]]:
    """Return the starts and finishes of some tours, and what takes them back, in order, by the tour's id."""
    s = steps.c
    by_tour: dict[int, list[tuple[str, datetime]]] = defaultdict(list)
    rows = select(s.tour_id, s.kind, s.at).where(s.kind.in_(STARTS_AND_FINISHES), s.tour_id.in_(of))
    for tour_id, kind, at in session.execute(rows.order_by(s.at, s.key)):
        by_tour[tour_id].append((kind, at))
    return by_tour
