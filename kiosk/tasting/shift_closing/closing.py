"""How often each rule was broken in a shift, as the closing tells it.

Closing a shift: everything about a room's day in one signed record; later truth signs a new revision.

A signed closing is never changed. Its body holds no names: whoever signed it,
poured or used something is an id.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.figures.service.bottles import Fate
from kiosk.figures.service.servings import Pour, counted
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import (
    bottle_entries,
    bottles,
    closings,
    pour_marks,
    pours,
    refusals,
    releases,
    stock_entries,
)
from kiosk.store.tables.tours import guests, tours
from kiosk.tasting.bottles.bottle_entries import held_weighings
from kiosk.tasting.bottles.shelf import POUR, corrections
from kiosk.tasting.rules.judging import judge
from kiosk.tasting.shift_closing.balancing import ProductShift, Shift, balances, poured, shift


@dataclass(frozen=True, slots=True)
class Judged:
    """How often each reason stood against a serving, and how many nobody can judge."""

    reasons: Mapping[str, int] = field(default_factory=dict)
    servings: int = 0  # with at least one reason
    unreadable: int = 0  # under rules that this release cannot read


def breaches(session: Session, site: Site, of: Shift) -> Judged:
    """Judge every serving of a room's shift."""
    found = [one.reasons for one in judge(session, site, of.since, of.until, of.room)]
    reasons = Counter(reason for one in found for reason in one or ())
    return Judged(dict(reasons), sum(map(bool, found)), found.count(None))


PARTS = (
    *("opening", "received", "moved_out", "served", "cleared", "set_out"),
    *("spilt", "house_use", "closing", "difference", "tolerance"),
)
"""The lines of a balance, in its order; in a body each is whole µL at 20 °C, as `<part>_ul`."""


@dataclass(frozen=True, slots=True)
class Closing:
    """A signed closing."""

    key: str
    room: str
    day: date
    revision: int
    at: datetime
    recorded_at: datetime
    by: int
    body: Mapping[str, Any]


def body(session: Session, site: Site, room: str, day: date, temperature_c: float) -> dict[str, Any]:
    """Return a room's shift as it is known now."""
    of = shift(site, room, day, temperature_c)
    signed = closings_of(session, room, day)
    glasses = list(poured(session, of))
    judged = breaches(session, site, of)
    served = [pour for pour, became, _bottle in glasses if became is Fate.SERVED]
    return {
        "temperature_mc": round(temperature_c * 1000),
        "products": [_product(one) for one in balances(session, site, of)],
        "servers": _servers(session, of, {pour.key: pour.volume_ul for pour in served}),
        "house_use": _house_use(session, of),
        "breaches": {"servings": judged.servings, "reasons": dict(judged.reasons)},
        "not_judged": judged.unreadable,
        "refusals": _refusals(session, of),
        "guests_served": _guests_served(session, [pour.key for pour in served]),
        "pours": len(served),
        "after_closing": _late(session, of, signed[0].recorded_at) if signed else [],
        "held": sum(one.payload.get("code") in _codes(session, room) for one in held_weighings(session)),
    }


def sign(
    session: Session, site: Site, tap: EntryOrigin, room: str, day: date, temperature_c: float, now: datetime
) -> Closing:
    """Sign a shift as it is known now, as the next revision. The caller has checked the signer's PIN."""
    known = session.execute(select(closings).where(closings.c.key == tap.key)).one_or_none()
    if known is None:
        newest = select(func.max(closings.c.revision)).where(closings.c.room == room, closings.c.day == day)
        values = {
            "key": tap.key,
            "at": now,
            "recorded_at": now,
            "by": tap.by,
            "device_id": tap.device_id,
            "room": room,
            "day": day,
            "revision": (session.scalar(newest) or 0) + 1,
            "body": body(session, site, room, day, temperature_c),
        }
        ledgers.append(session, closings, values)
        known = session.execute(select(closings).where(closings.c.key == tap.key)).one()
    return _closing(known)


def closings_of(session: Session, room: str, day: date) -> list[Closing]:
    """Return the signed closings of a room's day, the newest revision first."""
    c = closings.c
    wanted = select(closings).where(c.room == room, c.day == day).order_by(c.revision.desc())
    return [_closing(row) for row in session.execute(wanted)]


def truth_since(session: Session, site: Site, signed: Closing) -> int:
    """Count entries about a shift that came after it was signed: they ask for a new revision."""
    of = shift(site, signed.room, signed.day, signed.body["temperature_mc"] / 1000)
    p, m, e, s = pours.c, pour_marks.c, bottle_entries.c, stock_entries.c
    here = select(p.key).join_from(pours, tours, p.tour_id == tours.c.id)
    here = here.where(tours.c.room == of.room, p.at >= of.since, p.at < of.until)
    later = [
        select(func.count()).select_from(here.where(p.recorded_at > signed.recorded_at).subquery()),
        select(func.count()).where(m.pour_key.in_(here), m.recorded_at > signed.recorded_at),
        select(func.count())
        .select_from(bottle_entries.join(bottles))
        .where(bottles.c.room == of.room, e.at >= of.since, e.at < of.until)
        .where(e.recorded_at > signed.recorded_at),
        select(func.count()).where(
            s.room == of.room, s.at >= of.since, s.at < of.until, s.recorded_at > signed.recorded_at
        ),
    ]
    return sum(session.execute(one).scalar_one() for one in later)


def _product(one: ProductShift) -> dict[str, Any]:
    amounts = {f"{part}_ul": round(getattr(one.balance, f"{part}_ml") * 1000) for part in PARTS}
    over = one.balance.over_pour_ml
    return {
        "product": one.product,
        **amounts,
        "pours": one.balance.pours,
        "over_pour_ul": None if over is None else round(over * 1000),
        "within": one.balance.within,
        "alcohol_ul": round(one.alcohol_ml * 1000),
        "not_weighed": sorted(one.not_weighed),
        "disbelieved": sorted(one.disbelieved),
        "not_counted": one.not_counted,
        "without_bottle": one.without_bottle,
    }


def _servers(session: Session, of: Shift, served: Mapping[str, int]) -> list[dict[str, Any]]:
    p = pours.c
    wanted = select(p.key, p.by).join_from(pours, tours, p.tour_id == tours.c.id)
    by = session.execute(wanted.where(tours.c.room == of.room, p.at >= of.since, p.at < of.until))
    n: Counter[int] = Counter()
    volume_ul: Counter[int] = Counter()
    for key, staff_id in by:
        if key in served:
            n[staff_id or 0] += 1
            volume_ul[staff_id or 0] += served[key]
    return [{"staff_id": one or None, "pours": n[one], "volume_ul": volume_ul[one]} for one in sorted(n)]


def _house_use(session: Session, of: Shift) -> list[dict[str, Any]]:
    e = bottle_entries.c
    wanted = (
        select(releases.c.product, e.used_by, func.sum(e.volume_ul))
        .select_from(bottle_entries.join(bottles).join(releases))
        .where(bottles.c.room == of.room, e.kind == "house_use", e.at >= of.since, e.at < of.until)
        .group_by(releases.c.product, e.used_by)
        .order_by(releases.c.product, e.used_by)
    )
    rows = session.execute(wanted)
    return [{"product": product, "staff_id": by, "volume_ul": int(ul)} for product, by, ul in rows]


def _refusals(session: Session, of: Shift) -> dict[str, Any]:
    r = refusals.c
    wanted = (
        select(r.reasons)
        .select_from(refusals)
        .join(guests, r.guest_id == guests.c.id)
        .join(tours, guests.c.tour_id == tours.c.id)
        .where(tours.c.room == of.room, r.at >= of.since, r.at < of.until)
    )
    told = list(session.scalars(wanted))
    return {"asked": len(told), "reasons": dict(Counter(code for reasons in told for code in reasons))}


def _guests_served(session: Session, keys: Sequence[str]) -> int:
    """Count guests by what counts for them: a glass that went to another guest is that guest's."""
    p = pours.c
    rows = session.execute(select(*POUR).where(p.key.in_(keys)))
    told = counted((Pour(*row) for row in rows), corrections(session, select(p.key).where(p.key.in_(keys))))
    return len({one.guest_id for one in told})


def _late(session: Session, of: Shift, since: datetime) -> list[dict[str, Any]]:
    """Return what was recorded after the closing before: pours by product, how many and how much."""
    p = pours.c
    wanted = (
        select(p.product, func.count(), func.sum(p.volume_ul))
        .join_from(pours, tours, p.tour_id == tours.c.id)
        .where(tours.c.room == of.room, p.at >= of.since, p.at < of.until, p.recorded_at > since)
        .group_by(p.product)
        .order_by(p.product)
    )
    rows = session.execute(wanted)
    return [{"product": product, "pours": n, "volume_ul": int(ul)} for product, n, ul in rows]


def _codes(session: Session, room: str) -> set[str]:
    return set(session.scalars(select(bottles.c.code).where(bottles.c.room == room)))


def _closing(row: Any) -> Closing:
    return Closing(row.key, row.room, row.day, row.revision, row.at, row.recorded_at, row.by, row.body)
