"""Sealed bottles of tax-paid stock: received with their document, returned, moved, counted and opened."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, literal, select, union_all
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import approvals, bottle_entries, bottles, stock_entries
from kiosk.tasting.approvals.approvals import covers
from kiosk.tasting.bottles.shelf import NotApproved

KINDS = ("received", "returned", "moved", "counted")
MOST_BOTTLES = 10_000


@dataclass(frozen=True, slots=True)
class Line:
    """One entry of sealed bottles: of which approval and size, how many, what happened, by which document."""

    approval_id: int
    room: str
    kind: str
    bottles: int
    size_ml: int
    document: str | None = None


@dataclass(frozen=True, slots=True)
class Sealed:
    """A room's sealed bottles of one approval and size; `counted_at` is None if they were never counted."""

    approval_id: int
    size_ml: int
    bottles: int
    counted_at: datetime | None = None
    received: int = 0
    moved_out: int = 0
    moved_in: int = 0


def record(
    session: Session, site: Site, origin: EntryOrigin, line: Line, now: datetime, *, to_room: str = ""
) -> None:
    """Record an entry of sealed bottles; a move is recorded in both rooms.

    Raises Malformed, and NotApproved for stock that no approval ever covered.
    """
    if line.kind not in KINDS or not 0 <= line.bottles <= MOST_BOTTLES or line.size_ml <= 0:
        raise Malformed(part="stock")
    if line.room not in site.rooms or (line.kind == "received" and not line.document):
        raise Malformed(part="document" if line.room in site.rooms else "room")
    if session.execute(select(approvals.c.id).where(approvals.c.id == line.approval_id)).first() is None:
        raise NotApproved()
    if line.kind == "moved":
        _move(session, site, origin, line, to_room, now)
    else:
        ledgers.append(session, stock_entries, _values(origin, line, now))


def _move(session: Session, site: Site, origin: EntryOrigin, line: Line, to_room: str, now: datetime) -> None:
    if to_room not in site.rooms or to_room == line.room:
        raise Malformed(part="room")
    out = _values(origin, replace(line, bottles=-line.bottles), now)
    if ledgers.append(session, stock_entries, out) is ledgers.Appended.NEW:
        into = _values(origin, replace(line, room=to_room), now)
        ledgers.append(session, stock_entries, into | {"key": new_key()})


Key = tuple[int, int]
"""The id of an approval, and a size in mL."""
Event = tuple[datetime, str, str, int]
"""When, under which key, what happened, and to how many bottles."""


def sealed(
    session: Session, room: str, until: datetime, since: datetime | None = None
) -> Mapping[Key, Sealed]:
    """Return a room's sealed stock before `until`, by approval and size.

    What was received, moved in or moved out counts from `since` on. An opened bottle leaves the sealed
    ones; a count replaces the number computed until then.
    """
    return {key: _folded(key, events, since) for key, events in _events(session, room, until).items()}


def sealed_at_both_ends(
    session: Session, room: str, since: datetime, until: datetime
) -> tuple[Mapping[Key, Sealed], Mapping[Key, Sealed]]:
    """Return a room's sealed stock before `since`, and before `until` with what came and went since."""
    all_events = _events(session, room, until)
    earlier = {key: [event for event in events if event[0] < since] for key, events in all_events.items()}
    opening = {key: _folded(key, events, None) for key, events in earlier.items() if events}
    return opening, {key: _folded(key, events, since) for key, events in all_events.items()}


@dataclass(frozen=True, slots=True)
class RoomStock:
    """A room's sealed bottles and the approvals that concern it, as rows.

    `approved` are the approvals in force; `countable` are also those no longer in force whose bottles are
    still counted and sent back.
    """

    approved: Sequence[Row[Any]]
    countable: Sequence[Row[Any]]
    sealed: Sequence[tuple[Row[Any], Sealed]]  # each with its approval


def room_stock(session: Session, site: Site, room: str, now: datetime) -> RoomStock:
    """Return a room's sealed bottles and the approvals that concern it."""
    known = session.execute(select(approvals).order_by(approvals.c.product, approvals.c.code)).all()
    by_id = {row.id: row for row in known}
    stock = sealed(session, room, now + timedelta(seconds=1))
    kept = {approval_id for approval_id, _size_ml in stock}
    approved = [row for row in known if covers(row, room, site, now)]
    countable = [row for row in known if row in approved or row.id in kept]
    return RoomStock(approved, countable, [(by_id[key[0]], bottles) for key, bottles in stock.items()])


def _folded(key: Key, events: Sequence[Event], since: datetime | None) -> Sealed:
    n, counted_at = 0, None
    moved: dict[str, int] = defaultdict(int)
    kept = any(kind != "open" for _at, _key, kind, _n in events)
    for at, _key, kind, bottles_ in sorted(events):
        if kind == "open" and not kept:  # stock without entries comes in as it is opened
            moved["received"] += since is None or at >= since
            continue
        n = bottles_ if kind == "counted" else n + (-bottles_ if kind in ("returned", "open") else bottles_)
        counted_at = at if kind == "counted" else counted_at
        if since is None or at >= since:
            moved[_way(kind, bottles_)] += abs(bottles_)
    ways = {way: moved[way] for way in ("received", "moved_out", "moved_in")}
    return Sealed(*key, n, counted_at, **ways)


def _way(kind: str, n: int) -> str:
    if kind == "moved":
        return "moved_out" if n < 0 else "moved_in"
    return "moved_out" if kind == "returned" else kind


def _events(session: Session, room: str, until: datetime) -> Mapping[Key, list[Event]]:
    s, e, b = stock_entries.c, bottle_entries.c, bottles.c
    entered = select(s.approval_id, s.size_ml, s.at, s.key, s.kind, s.bottles)
    opened = select(b.approval_id, b.size_ml, e.at, e.key, literal("open"), literal(1))
    opened = opened.join_from(bottle_entries, bottles)
    both = union_all(
        entered.where(s.room == room, s.at < until),
        opened.where(b.room == room, b.kind == "bottle", e.kind == "open", e.at < until),
    )
    events: dict[Key, list[Event]] = defaultdict(list)
    for approval_id, size_ml, at, key, kind, n in session.execute(both):
        events[approval_id, size_ml].append((at, key, kind, n))
    return events


def _values(origin: EntryOrigin, line: Line, now: datetime) -> dict[str, object]:
    return origin.values(origin.at(now), now) | asdict(line)
