"""How often each rule was broken in a shift, as the closing tells it.

Closing a shift: everything about a room's day in one signed record; later truth signs a new revision.

A signed closing is never changed. Its body holds no names: whoever signed it,
poured or used something is an id.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select, union_all
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.figures.service.bottles import Fate
from kiosk.figures.service.servings import Pour
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.tasting import (
    approvals,
    bottle_entries,
    bottles,
    pour_marks,
    pours,
    refusals,
    shift_closings,
    stock_entries,
)
from kiosk.store.tables.tours import guests, tours
from kiosk.tasting.bottles.bottle_entries import held_weighings
from kiosk.tasting.rules.judging import JudgingData, Verdict
from kiosk.tasting.shift_closing.balancing import ProductShift, Shift, balances, poured, shift


@dataclass(frozen=True, slots=True)
class Judged:
    """How often each reason stood against a serving, and how many nobody can judge."""

    reasons: Mapping[str, int] = field(default_factory=dict)
    servings: int = 0  # with at least one reason
    unreadable: int = 0  # under rules that this release cannot read


def breaches(verdicts: Iterable[Verdict]) -> Judged:
    """Count what stood against servings."""
    found = [one.reasons for one in verdicts]
    reasons = Counter(reason for one in found for reason in one or ())
    return Judged(dict(reasons), sum(map(bool, found)), found.count(None))


PARTS = (
    *("opening", "received", "moved_out", "served", "cleared", "preset"),
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


def body(
    session: Session,
    site: Site,
    room: str,
    day: date,
    temperature_c: float,
    signed: Sequence[Closing] | None = None,
) -> dict[str, Any]:
    """Return a room's shift as it is known now.

    `signed` are its closings as `closings_of` returns them, read here where they are left out.
    """
    of = shift(site, room, day, temperature_c)
    signed = closings_of(session, room, day) if signed is None else signed
    judging = JudgingData(session, site, of.since, of.until)
    judged = breaches(judging.verdicts(room))
    served = [pour for pour, became, _bottle in poured(of, judging) if became is Fate.SERVED]
    keys = {pour.key for pour in served}
    return {
        "temperature_mc": round(temperature_c * 1000),
        "products": [_product(one) for one in balances(session, site, of, judging)],
        "servers": _servers(judging, served),
        "house_use": _house_use(session, of),
        "breaches": {"servings": judged.servings, "reasons": dict(judged.reasons)},
        "not_judged": judged.unreadable,
        "refusals": _refusals(session, of),
        "guests_served": len({one.guest_id for one in judging.served if one.key in keys}),
        "pours": len(served),
        "after_closing": _late(judging, of, signed[0].recorded_at) if signed else [],
        "held": _held(session, room),
    }


def sign(
    session: Session,
    site: Site,
    origin: EntryOrigin,
    room: str,
    day: date,
    temperature_c: float,
    now: datetime,
) -> Closing:
    """Sign a shift as it is known now, as the next revision. The caller has checked the signer's PIN."""
    known = session.execute(select(shift_closings).where(shift_closings.c.key == origin.key)).one_or_none()
    if known is None:
        newest = select(func.max(shift_closings.c.revision)).where(
            shift_closings.c.room == room, shift_closings.c.day == day
        )
        values = {
            "key": origin.key,
            "at": now,
            "recorded_at": now,
            "by": origin.by,
            "device_id": origin.device_id,
            "room": room,
            "day": day,
            "revision": (session.scalar(newest) or 0) + 1,
            "body": body(session, site, room, day, temperature_c),
        }
        ledgers.append(session, shift_closings, values)
        known = session.execute(select(shift_closings).where(shift_closings.c.key == origin.key)).one()
    return _closing(known)


def closings_of(session: Session, room: str, day: date) -> list[Closing]:
    """Return the signed closings of a room's day, the newest revision first."""
    c = shift_closings.c
    wanted = select(shift_closings).where(c.room == room, c.day == day).order_by(c.revision.desc())
    return [_closing(row) for row in session.execute(wanted)]


def truth_since(session: Session, site: Site, signed: Closing) -> int:
    """Count entries about a shift that came after it was signed: they ask for a new revision."""
    of = shift(site, signed.room, signed.day, signed.body["temperature_mc"] / 1000)
    p, m, e, s = pours.c, pour_marks.c, bottle_entries.c, stock_entries.c
    here = select(p.key).join_from(pours, tours, p.tour_id == tours.c.id)
    here = here.where(tours.c.room == of.room, p.at >= of.since, p.at < of.until)
    bottle_entry = select(e.key).join_from(bottle_entries, bottles)
    later = union_all(
        here.where(p.recorded_at > signed.recorded_at),
        select(m.key).where(m.pour_key.in_(here), m.recorded_at > signed.recorded_at),
        bottle_entry.where(
            bottles.c.room == of.room,
            *(e.at >= of.since, e.at < of.until, e.recorded_at > signed.recorded_at),
        ),
        select(s.key).where(
            s.room == of.room, s.at >= of.since, s.at < of.until, s.recorded_at > signed.recorded_at
        ),
    )
    return session.scalar(select(func.count()).select_from(later.subquery())) or 0


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


def _servers(judging: JudgingData, served: Iterable[Pour]) -> list[dict[str, Any]]:
    n: Counter[int] = Counter()
    volume_ul: Counter[int] = Counter()
    for pour in served:
        staff_id = judging.entries[pour.key].by or 0
        n[staff_id] += 1
        volume_ul[staff_id] += pour.volume_ul
    return [{"staff_id": one or None, "pours": n[one], "volume_ul": volume_ul[one]} for one in sorted(n)]


def _house_use(session: Session, of: Shift) -> list[dict[str, Any]]:
    e = bottle_entries.c
    wanted = (
        select(approvals.c.product, e.used_by, func.sum(e.volume_ul))
        .select_from(bottle_entries.join(bottles).join(approvals))
        .where(bottles.c.room == of.room, e.kind == "house_use", e.at >= of.since, e.at < of.until)
        .group_by(approvals.c.product, e.used_by)
        .order_by(approvals.c.product, e.used_by)
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


def _late(judging: JudgingData, of: Shift, since: datetime) -> list[dict[str, Any]]:
    """Return what was recorded after the closing before: pours by product, how many and how much."""
    n: Counter[str] = Counter()
    volume_ul: Counter[str] = Counter()
    for row in judging.entries.values():
        if row.room == of.room and of.since <= row.at < of.until and row.recorded_at > since:
            n[row.product] += 1
            volume_ul[row.product] += row.volume_ul
    return [{"product": one, "pours": n[one], "volume_ul": volume_ul[one]} for one in sorted(n)]


def _held(session: Session, room: str) -> int:
    """Count the weighings of a room's bottles that wait for the manager."""
    held = Counter(one.payload.get("code") for one in held_weighings(session))
    codes = session.scalars(select(bottles.c.code).where(bottles.c.room == room)) if held else ()
    return sum(held[code] for code in set(codes))


def _closing(row: Any) -> Closing:
    return Closing(row.key, row.room, row.day, row.revision, row.at, row.recorded_at, row.by, row.body)
