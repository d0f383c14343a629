"""What the rules need to decide a pour: the guest's records, in two queries, and the server's permits."""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Integer,
    Row,
    Select,
    String,
    and_,
    bindparam,
    cast,
    false,
    literal_column,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import Session

from kiosk.figures.drinks import (
    STARTS_AND_FINISHES,
    DayRestriction,
    Guest,
    Mark,
    Pour,
    PourMark,
    Room,
    Served,
    Server,
    ServicePolicy,
    counted,
    guest_gone,
    guest_state,
    start_and_finish,
)
from kiosk.site.settings import Site
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.staff import permits
from kiosk.store.tables.tasting import approvals, day_restrictions, policies, pour_marks, pours, refusals
from kiosk.store.tables.tours import bookings, guests, marks, steps, tours
from kiosk.tasting.approvals.approvals import OF_THE_DAY, Approved
from kiosk.tasting.bottles.shelf import opened_last
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.policy import FOR_A_ROOM

LedgerLines = dict[str, list[Row[Any]]]
"""The lines of the one query, by what each is."""


@dataclass(frozen=True, slots=True)
class PourContext:
    """What the rules need to decide a pour for a guest, who is locked until the transaction ends."""

    guest: Guest
    served: Sequence[Served]
    room: Room
    tour_id: int
    of_today: bool  # a guest number lives for one service day
    policy_key: str | None  # None: no version is in force
    recorded_in: str  # the ledger that has the entry's key already, "pours" before "refusals", or ""
    skipped: int = 0  # how many samples the guest declined
    bottle_id: int | None = None  # which is open of the product asked for
    restrictions: Sequence[DayRestriction] = ()  # a manager's, for this day and room
    approved: Sequence[Approved] = ()  # the entries for the product asked for, in this room on this day


def lock_and_read_context(
    session: Session, site: Site, guest_id: int, key: str, now: datetime, product: str = ""
) -> PourContext:
    """Lock a guest and return what the rules need to decide a pour. Raises NoSuchRow for an unknown guest.

    The lock holds until the transaction ends. `key` is that of the entry to be decided, `product`
    what it would pour.
    """
    connection = session.connection()
    row = connection.execute(_GUEST, {"guest_id": guest_id}).one_or_none()
    if row is None:
        raise NoSuchRow(guests.name, guest_id)
    day = site.service_day(now)
    asked = {"guest_id": guest_id, "tour_id": row.tour_id, "key": key}
    asked |= {"room": row.room, "product": product, "at": now, "day": day}
    lines: LedgerLines = {}
    for entry in connection.execute(_LEDGERS, asked):
        lines.setdefault(entry.what, []).append(entry)
    return PourContext(
        guest=_as_guest(row, lines),
        served=_served(guest_id, lines),
        room=Room(row.room, *site.day_bounds(day), site.zone),
        tour_id=row.tour_id,
        of_today=row.day == day,
        policy_key=_in_force(site, lines),
        recorded_in=min((e.kind for e in lines.get("recorded", ())), default=""),
        skipped=sum(e.kind == "declined" for e in lines.get("mark", ())),
        bottle_id=lines["bottle"][0].guest if "bottle" in lines else None,
        restrictions=[DayRestriction(e.kind, e.volume, e.at) for e in lines.get("restriction", ())],
        approved=[
            Approved(e.key, e.kind, e.abv, e.of, e.at)
            for e in lines.get("approval", ())
            if row.room in json.loads(e.rooms)
        ],
    )


def _as_guest(row: Row[Any], lines: LedgerLines) -> Guest:
    own_marks = [Mark(e.key, e.at, e.kind, e.by, e.of, e.checked) for e in lines.get("mark", ())]
    taken = sorted(lines.get("step", ()), key=lambda e: (e.at, e.key))
    walked = start_and_finish((e.kind, e.at) for e in taken)
    return guest_by_records(own_marks, row.tour_id, walked, row.ticket)


def guest_by_records(
    marked: Sequence[Mark], tour_id: int, walked: Mapping[str, datetime], ticket: str | None
) -> Guest:
    """Return a guest as the rules see them: by their marks, their tour's start and finish, their ticket."""
    started, ended = walked.get("start"), walked.get("finish")
    return Guest(guest_state(marked), tour_id, started, ended, guest_gone(marked), ticket or "")


def _served(guest_id: int, lines: LedgerLines) -> list[Served]:
    poured = (
        Pour(e.key, e.at, e.guest or None, e.visit, e.kind, e.volume, e.abv, e.neat)
        for e in lines.get("pour", ())
    )
    corrections = (
        PourMark(e.key, e.at, e.of, e.kind, e.guest or None, e.checked) for e in lines.get("pour_mark", ())
    )
    return [one for one in counted(poured, corrections) if one.guest_id == guest_id]


def _in_force(site: Site, lines: LedgerLines) -> str | None:
    confirmed = lines.get("policy")
    return confirmed[0].key if confirmed and confirmed[0].of == policy.digest(site.policy) else None


def _guest() -> Select[Any]:
    return (
        select(guests.c.tour_id, guests.c.day, tours.c.room, bookings.c.ticket)
        .join_from(guests, tours, guests.c.tour_id == tours.c.id)
        .join(bookings, guests.c.booking_id == bookings.c.id)
        .where(guests.c.id == bindparam("guest_id"))
        .with_for_update(of=guests)
    )


def _ledgers() -> CompoundSelect[Any]:
    """One query for marks, pours, their corrections, the tour's steps, the rules in force, the restrictions
    of the day, what is approved, the open bottle, and the key."""
    m, p, c, s, r, d, e = marks.c, pours.c, pour_marks.c, steps.c, refusals.c, day_restrictions.c, approvals.c
    guest_id: BindParameter[Any] = bindparam("guest_id")
    tour_id: BindParameter[Any] = bindparam("tour_id")
    key: BindParameter[Any] = bindparam("key")
    moved_here = select(c.pour_key).where(c.guest_id == guest_id)
    own = or_(p.guest_id == guest_id, p.key.in_(moved_here))
    confirmed = policy.newest(policies.c.key, policies.c.at, policies.c.digest).subquery()
    opened = opened_last().subquery("opened")
    return union_all(
        _line("mark", m.key, m.at, kind=m.kind, by=m.by, of=m.detail, checked=m.server_checked).where(
            m.guest_id == guest_id
        ),
        _line(
            "pour",
            p.key,
            p.at,
            guest=p.guest_id,
            visit=p.tour_id,
            kind=p.product,
            volume=p.volume_ul,
            abv=p.abv_e2,
            neat=p.neat,
        ).where(own),
        _line(
            "pour_mark",
            c.key,
            c.at,
            guest=c.guest_id,
            kind=c.kind,
            of=c.pour_key,
            checked=c.server_checked,
        ).where(c.pour_key.in_(select(p.key).where(own))),
        _line("step", s.key, s.at, kind=s.kind).where(
            and_(s.tour_id == tour_id, or_(*(s.kind == kind for kind in STARTS_AND_FINISHES)))
        ),
        _line("policy", confirmed.c.key, confirmed.c.at, of=confirmed.c.digest),
        _line("restriction", d.key, d.at, kind=d.rule, volume=d.most).where(*FOR_A_ROOM),
        _line(
            "approval",
            e.code,
            e.signed_at,
            kind=e.product,
            abv=e.abv_e2,
            of=e.abv_basis,
            rooms=cast(e.rooms, String),
        ).where(
            e.product == bindparam("product"),
            *OF_THE_DAY,
            or_(e.ended_at.is_(None), e.ended_at > bindparam("at", type_=e.ended_at.type)),
        ),
        _line("bottle", opened.c.key, opened.c.at, guest=opened.c.bottle_id),
        _line("recorded", p.key, p.at, kind=_written("pours")).where(p.key == key),
        _line("recorded", r.key, r.at, kind=_written("refusals")).where(r.key == key),
    )


def _line(what: str, key: Any, at: Any, **given: Any) -> Select[Any]:
    """Make one branch of the union; what it has not is 0, "" or false, so that types agree."""
    lacking = {"guest": _NONE, "visit": _NONE, "kind": _EMPTY, "volume": _NONE, "abv": _NONE}
    columns = {
        **lacking,
        "neat": false(),
        "checked": false(),
        "by": _NONE,
        "of": _EMPTY,
        "rooms": _EMPTY,
        **given,
    }
    named = [column.label(name) for name, column in columns.items()]
    return select(_written(what).label("what"), key.label("key"), at.label("at"), *named)


def _written(text: str) -> ColumnElement[str]:
    """Return a literal for the statement: eighty parameters would cost more than the query."""
    return literal_column(f"'{text}'", String)


_NONE, _EMPTY = literal_column("0", Integer), _written("")
# Built once: building them anew would cost an entry more than running them.
_GUEST = _guest()
_LEDGERS = _ledgers()


NOBODY_NAMED = 0
"""The id of a server whom the entry does not name: the rules about servers apply to them too."""

_AGE = re.compile(r"age-(\d{1,2})")
_P = permits.c
_HELD = select(_P.kind).where(
    _P.staff_id == bindparam("staff_id"),
    _P.valid_from <= bindparam("day"),
    _P.valid_until >= bindparam("day"),
)


def server_with_permits(session: Session, policy: ServicePolicy, staff_id: int | None, day: date) -> Server:
    """Return a server with the permits that are valid on a service day; one who is not named has none.

    A permit of the kind "age-21" says that a manager checked an ID by which they are 21 or older.
    Nothing is read where no rule needs it.
    """
    asked = staff_id is not None and bool(policy.server_age or policy.server_permit)
    kinds = session.scalars(_HELD, {"staff_id": staff_id, "day": day}) if asked else ()
    return with_permits(policy, staff_id, tuple(kinds))


def with_permits(policy: ServicePolicy, staff_id: int | None, kinds: tuple[str, ...]) -> Server:
    """Return a server with the age and the `kinds` of permit that a policy needs to know."""
    if not policy.server_age and not policy.server_permit:
        return Server(staff_id)
    if staff_id is None:
        return Server(NOBODY_NAMED)
    ages = [int(age[1]) for kind in kinds if (age := _AGE.fullmatch(kind))]
    return Server(staff_id, age=max(ages, default=0), permits=kinds)
