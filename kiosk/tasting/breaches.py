"""What was served against the rules, judged as the rules judge: each serving at its own time.

Nothing is stored: a breach is what `decide` says of a serving against those
before it, under the policy that its entry names.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import (
    Guest,
    Mark,
    Offer,
    Pour,
    Room,
    Served,
    counted,
    decide,
    guest_gone,
    guest_state,
    tighten,
)
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import policies, pours
from kiosk.store.tables.tours import guests, marks, parties, steps, tours
from kiosk.tasting.balancing import Shift
from kiosk.tasting.day_words import for_room, of_day
from kiosk.tasting.policy import NO_POLICY, digest
from kiosk.tasting.releases import contents, entries
from kiosk.tasting.servers import server
from kiosk.tasting.shelf import POUR, corrections


@dataclass(frozen=True, slots=True)
class Judged:
    """How often each reason stood against a serving, and how many were served under other rules."""

    reasons: Mapping[str, int] = field(default_factory=dict)
    servings: int = 0  # with at least one reason
    other_rules: int = 0  # under an earlier version of the rules: not judged here


def breaches(session: Session, site: Site, of: Shift) -> Judged:
    """Judge every serving with alcohol of a room's shift."""
    served, told = _servings(session, of)
    here = _Here(session, site, of, [one.guest_id for one in served])
    found: Counter[str] = Counter()
    servings = other = 0
    for n, one in enumerate(served):
        entry = told.get(one.key)
        if entry is None or not one.ethanol or not of.since <= one.at < of.until:
            continue
        if entry.policy_key and entry.policy_key not in here.same_rules:
            other += 1
            continue
        before = [earlier for earlier in served[:n] if earlier.guest_id == one.guest_id]
        reasons = here.reasons(one, before, entry)
        found.update(reasons)
        servings += bool(reasons)
    return Judged(dict(found), servings, other)


class _Here:
    """What the judging of every serving shares."""

    def __init__(self, session: Session, site: Site, of: Shift, guest_ids: Sequence[int]) -> None:
        self.session, self.site, self.of = session, site, of
        p = policies.c
        same = select(p.key).where(p.digest == digest(site.policy))
        self.same_rules = set(session.scalars(same))
        self.marks = _marks(session, set(guest_ids))
        self.steps = _steps(session, of)
        self.tickets = _tickets(session, set(guest_ids))
        self.words = for_room(of_day(session, of.day), of.room)
        self.releases = entries(session, of.room, of.day)

    def reasons(self, one: Served, before: Sequence[Served], entry: Any) -> tuple[str, ...]:
        if not entry.policy_key:
            return (NO_POLICY,)
        known = [mark for mark in self.marks[one.guest_id] if mark.at <= one.at]
        walked = {kind: at for kind, at in self.steps[entry.tour_id] if at <= one.at}
        guest = Guest(
            guest_state(known),
            entry.tour_id,
            walked.get("start"),
            walked.get("finish"),
            guest_gone(known),
            self.tickets.get(one.guest_id) or "",
        )
        product = self.site.products.get(one.product)
        offer = Offer(
            one.product,
            one.volume_ul,
            one.abv_e2,
            one.neat,
            released=any(r.product == one.product and r.holds(one.at) for r in self.releases),
            own=product is None or product.own,
        )
        pourer = server(self.session, self.site.policy, entry.by, self.of.day)
        room = Room(self.of.room, self.of.since, self.of.until, self.site.zone)
        offer = replace(offer, liquids=contents(self.site, one.glass, offer).liquids)
        rules = tighten(self.site.policy, [word for word in self.words if word.at <= one.at])
        return decide(rules, guest, before, pourer, room, one.at, offer).reasons


def _servings(session: Session, of: Shift) -> tuple[list[Served], Mapping[str, Any]]:
    """Return all that was served to the guests of a day, and the entries of the room's own pours."""
    p, g = pours.c, guests.c
    todays = select(g.id).where(g.day == of.day)
    around = (p.at >= of.since - timedelta(days=1), p.at < of.until)
    wanted = select(*POUR, p.policy_key, p.by).where(p.guest_id.in_(todays) | p.place.is_not(None), *around)
    rows = session.execute(wanted).all()
    keys = select(p.key).where(p.guest_id.in_(todays) | p.place.is_not(None), *around)
    served = counted([Pour(*row[: len(POUR)]) for row in rows], corrections(session, keys))
    here = set(session.scalars(select(tours.c.id).where(tours.c.room == of.room)))
    return served, {row.key: row for row in rows if row.tour_id in here}


def _tickets(session: Session, guest_ids: set[int]) -> Mapping[int, str | None]:
    found = select(guests.c.id, parties.c.ticket).join(parties, guests.c.party_id == parties.c.id)
    return dict(session.execute(found.where(guests.c.id.in_(guest_ids))).all())


def _marks(session: Session, guest_ids: set[int]) -> Mapping[int, list[Mark]]:
    m = marks.c
    found: dict[int, list[Mark]] = defaultdict(list)
    told = select(m.guest_id, m.key, m.at, m.kind, m.by, m.detail).where(m.guest_id.in_(guest_ids))
    for guest_id, *rest in session.execute(told):
        found[guest_id].append(Mark(*rest))
    return found


def _steps(session: Session, of: Shift) -> Mapping[int, list[tuple[str, datetime]]]:
    s = steps.c
    found: dict[int, list[tuple[str, datetime]]] = defaultdict(list)
    told = select(s.tour_id, s.kind, s.at).where(s.kind.in_(("start", "finish")), s.at < of.until)
    for tour_id, kind, at in session.execute(told.where(s.at >= of.since - timedelta(days=1)).order_by(s.at)):
        found[tour_id].append((kind, at))
    return found
