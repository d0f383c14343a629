"""Closing a shift: a room's day in one signed record; entries that come later are signed in a new revision.

A signed closing is never changed. Its body holds no names: people in it are ids of staff.
"""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from sqlalchemy import Row, func, select, union_all
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.typed_in import typed_in
from kiosk.figures.service.bottles import Fate
from kiosk.figures.service.servings import Pour
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.engine import use_one_snapshot
from kiosk.store.tables.staff import staff
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
from kiosk.tasting.room.corrections import GIVING_BACK
from kiosk.tasting.rules.judging import JudgingData, Verdict
from kiosk.tasting.shift_closing.balances import ProductShift, Shift, Typed, balances, poured, shift_of_day
from kiosk.tasting.shift_closing.typed import record_typed

K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True, slots=True)
class BreachCounts:
    """How many pours broke a rule, and how often each rule was broken."""

    reasons: Mapping[str, int] = field(default_factory=dict)
    servings: int = 0  # pours that broke at least one rule
    not_judged: int = 0  # pours under rules that this release cannot read


def count_breaches(verdicts: Iterable[Verdict]) -> BreachCounts:
    """Return how often each rule was broken by the pours that were judged."""
    breaches = [verdict.reasons for verdict in verdicts]
    by_rule = Counter(reason for reasons in breaches for reason in reasons or ())
    return BreachCounts(dict(by_rule), sum(map(bool, breaches)), breaches.count(None))


PARTS = (
    *("opening", "received", "moved_out", "served", "cleared", "preset"),
    *("spilt", "house_use", "closing", "difference", "tolerance"),
)
"""The parts of a balance in their order; in a body each is whole µL at 20 °C, as `<part>_ul`."""


@dataclass(frozen=True, slots=True)
class ShiftRecord:
    """A shift by all entries until now: its products, and the body of its closing."""

    products: Sequence[ProductShift]
    body: dict[str, Any]


def shift_record(
    session: Session,
    site: Site,
    room: str,
    day: date,
    temperature_c: float,
    signed: Sequence[Row[Any]] | None = None,
    typed: Typed | None = None,
) -> ShiftRecord:
    """Return a room's shift by all entries recorded until now, and by what is `typed` at its closing.

    `signed` are its closings as `signed_closings` returns them; they are read here where they are left out.
    """
    shift = shift_of_day(site, room, day, temperature_c)
    signed = signed_closings(session, room, day) if signed is None else signed
    judging = JudgingData(session, site, shift.since, shift.until)
    breaches = count_breaches(judging.verdicts(room))
    served = [pour for pour, fate, _bottle in poured(shift, judging) if fate is Fate.SERVED]
    keys = {pour.key for pour in served}
    products = balances(session, site, shift, judging, typed)
    of_shift = {
        "temperature_mc": round(temperature_c * 1000),
        "products": [_product(product) for product in products],
        "servers": _servers(judging, served),
        "typed_in": _typed_in(session, [pour for pour in served if not pour.checked]),
        "given_back": _given_back(judging, shift),
        "house_use": _house_use(session, shift),
        "breaches": {"servings": breaches.servings, "reasons": dict(breaches.reasons)},
        "not_judged": breaches.not_judged,
        "refusals": _refusals(session, shift),
        "guests_served": len({pour.guest_id for pour in judging.served if pour.key in keys}),
        "pours": len(served),
        "after_closing": _late(judging, shift, signed[0]) if signed else [],
        "held": _held(session, room),
    }
    return ShiftRecord(products, of_shift)


def body(
    session: Session,
    site: Site,
    room: str,
    day: date,
    temperature_c: float,
    signed: Sequence[Row[Any]] | None = None,
) -> dict[str, Any]:
    """Return the body of a closing: a room's shift by all entries recorded until now."""
    return shift_record(session, site, room, day, temperature_c, signed).body


def sign(
    session: Session,
    site: Site,
    origin: EntryOrigin,
    room: str,
    day: date,
    temperature_c: float,
    now: datetime,
    typed: Typed | None = None,
) -> Row[Any]:
    """Record a shift, by all entries until now, as the next signed revision of its closing, and return it.

    Weights and counts that were `typed` are recorded first. The body keeps the keys of the entries that it
    counted. A key that was recorded before returns its closing. The caller has checked the signer's PIN;
    nothing was read in this transaction. Raises NoLongerFits, and then nothing is recorded.
    """
    use_one_snapshot(session)
    by_key = select(shift_closings).where(shift_closings.c.key == origin.key)
    recorded = session.execute(by_key).one_or_none()
    if recorded is not None:
        return recorded
    if typed is not None:
        record_typed(session, site, origin, room, typed, now)
    signed = signed_closings(session, room, day)
    entries = _entries(session, shift_of_day(site, room, day, temperature_c))
    counted = {"counted": sorted(entry.key for entry in entries)}
    values = {
        **origin.values(now, now),
        "room": room,
        "day": day,
        "revision": signed[0].revision + 1 if signed else 1,
        "body": body(session, site, room, day, temperature_c, signed) | counted,
    }
    ledgers.append(session, shift_closings, values)
    return session.execute(by_key).one()


def signed_closings(session: Session, room: str, day: date) -> Sequence[Row[Any]]:
    """Return the signed closings of a room's day as rows of their ledger, the newest revision first."""
    c = shift_closings.c
    query = select(shift_closings).where(c.room == room, c.day == day).order_by(c.revision.desc())
    return session.execute(query).all()


def is_running(site: Site, day: date, now: datetime) -> bool:
    """Return whether a service day is today's: only then are weights and counts entries of its shift."""
    since, until = site.day_bounds(day)
    return since <= now < until


def staff_names(session: Session) -> dict[int, str]:
    """Return the names of staff by id, also of those who left: what they signed stands."""
    return dict(session.execute(select(staff.c.id, staff.c.name)).all())


def entries_since(session: Session, site: Site, signed: Row[Any]) -> int:
    """Return how many entries about a shift `signed` did not count; they call for a new revision."""
    shift = shift_of_day(site, signed.room, signed.day, signed.body["temperature_mc"] / 1000)
    return sum(_came_after(entry, signed) for entry in _entries(session, shift))


def _entries(session: Session, shift: Shift) -> Sequence[Row[Any]]:
    """Return key and `recorded_at` of every entry about a shift."""
    p, m, e, s = pours.c, pour_marks.c, bottle_entries.c, stock_entries.c
    here = select(p.key, p.recorded_at).join_from(pours, tours, p.tour_id == tours.c.id)
    here = here.where(tours.c.room == shift.room, p.at >= shift.since, p.at < shift.until)
    of_bottles = select(e.key, e.recorded_at).join_from(bottle_entries, bottles)
    every = union_all(
        here,
        select(m.key, m.recorded_at).where(m.pour_key.in_(here.with_only_columns(p.key))),
        of_bottles.where(bottles.c.room == shift.room, e.at >= shift.since, e.at < shift.until),
        select(s.key, s.recorded_at).where(s.room == shift.room, s.at >= shift.since, s.at < shift.until),
    )
    return session.execute(every).all()


def _came_after(entry: Row[Any], signed: Row[Any]) -> bool:
    """Return whether a signed closing did not count an entry.

    The order of commits is not that of `recorded_at`, which is when a request began. A closing from
    before it kept the keys of what it counted knows no better.
    """
    counted = signed.body.get("counted")
    return entry.recorded_at > signed.recorded_at if counted is None else entry.key not in counted


def _product(one: ProductShift) -> dict[str, Any]:
    balance, over_ml = one.balance, one.balance.over_pour_ml
    amounts = {f"{part}_ul": round(getattr(balance, f"{part}_ml") * 1000) for part in PARTS}
    return {
        "product": one.product,
        **amounts,
        "pours": balance.pours,
        "over_pour_ul": None if over_ml is None else round(over_ml * 1000),
        "within": balance.within,
        "alcohol_ul": round(one.alcohol_ml * 1000),
        "not_weighed": sorted(one.not_weighed),
        "rejected": sorted(one.rejected),
        "not_counted": one.not_counted,
        "without_bottle": one.without_bottle,
    }


def _servers(judging: JudgingData, served: Iterable[Pour]) -> list[dict[str, Any]]:
    sums = _sums(((judging.entries[pour.key].by or 0, not pour.checked), pour.volume_ul) for pour in served)
    return [
        {"staff_id": staff_id or None, "claimed": claimed, **sums[staff_id, claimed]}
        for staff_id, claimed in sorted(sums)
    ]


def _typed_in(session: Session, claimed: Sequence[Pour]) -> list[dict[str, Any]]:
    """Return number and volume of the pours that managers typed in for a tablet, by manager and reason."""
    typed = typed_in(session, [pour.key for pour in claimed])
    sums = _sums(
        ((typed[pour.key].by_id, typed[pour.key].reason), pour.volume_ul)
        for pour in claimed
        if pour.key in typed
    )
    return [{"staff_id": by, "reason": reason, **sums[by, reason]} for by, reason in sorted(sums)]


def _given_back(judging: JudgingData, shift: Shift) -> list[dict[str, Any]]:
    """Return how often pours for the shift's guests were given back, by kind and reason (none: an undo)."""
    poured = {row.key for row in shift.entries(judging) if row.guest_id is not None}
    counts = Counter(
        (mark.kind, mark.reason or "")
        for mark in judging.corrections
        if mark.kind in GIVING_BACK and mark.checked and mark.pour_key in poured
    )
    return [{"kind": kind, "reason": reason or None, "n": n} for (kind, reason), n in sorted(counts.items())]


def _sums(pours: Iterable[tuple[K, int]]) -> Mapping[K, dict[str, int]]:
    """Return the number and volume of pours by a key."""
    sums: dict[K, dict[str, int]] = defaultdict(lambda: {"pours": 0, "volume_ul": 0})
    for key, volume_ul in pours:
        sums[key]["pours"] += 1
        sums[key]["volume_ul"] += volume_ul
    return sums


def _house_use(session: Session, shift: Shift) -> list[dict[str, Any]]:
    e = bottle_entries.c
    query = (
        select(approvals.c.product, e.used_by, func.sum(e.volume_ul))
        .select_from(bottle_entries.join(bottles).join(approvals))
        .where(bottles.c.room == shift.room, e.kind == "house_use", e.at >= shift.since, e.at < shift.until)
        .group_by(approvals.c.product, e.used_by)
        .order_by(approvals.c.product, e.used_by)
    )
    return [
        {"product": product, "staff_id": by, "volume_ul": int(ul)}
        for product, by, ul in session.execute(query)
    ]


def _refusals(session: Session, shift: Shift) -> dict[str, Any]:
    r = refusals.c
    query = (
        select(r.reasons)
        .select_from(refusals.join(guests).join(tours))
        .where(tours.c.room == shift.room, r.at >= shift.since, r.at < shift.until)
    )
    refused = list(session.scalars(query))
    return {"asked": len(refused), "reasons": dict(Counter(code for codes in refused for code in codes))}


def _late(judging: JudgingData, shift: Shift, signed: Row[Any]) -> list[dict[str, Any]]:
    """Return the number and volume of pours by product that a signed closing did not count."""
    late = [row for row in shift.entries(judging) if _came_after(row, signed)]
    sums = _sums((row.product, row.volume_ul) for row in late)
    return [{"product": product, **sums[product]} for product in sorted(sums)]


def _held(session: Session, room: str) -> int:
    """Return how many weighings of a room's bottles wait for the manager."""
    held = Counter(weighing.payload.get("code") for weighing in held_weighings(session))
    codes = session.scalars(select(bottles.c.code).where(bottles.c.room == room)) if held else ()
    return sum(held[code] for code in set(codes))
