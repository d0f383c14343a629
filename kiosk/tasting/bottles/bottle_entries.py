"""Opening, weighing and closing bottles, and what left them for no guest's glass.

Every entry may be sent again under its key. Nothing here adds to a bottle: there
is no topping up and no joining of part bottles.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.service.bottles import rejection, tare_at_opening_g
from kiosk.site.settings import Site
from kiosk.store import ledgers, rows
from kiosk.store.tables.production import held
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import approvals, bottle_entries, bottles
from kiosk.tasting.approvals.approvals import covers
from kiosk.tasting.bottles.shelf import BottleOnShelf, density_of, one_bottle
from kiosk.tasting.errors import BottleEnded, NotApproved, UnknownBottle

KINDS = ("bottle", "jug")
LARGEST_ML = 20_000
HELD = "bottle_entries"
"""The kind under which a weighing that cannot be is held for the manager."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A full bottle taken to the bar, pourer on. `tare_g` is for a jug that was weighed empty."""

    approval_id: int
    room: str
    size_ml: int
    kind: str = "bottle"
    gross_g: int | None = None
    temperature_mc: int | None = None
    tare_g: int | None = None
    discard_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class BottleEntryForm:
    """What is told about an open bottle: weigh, spill, break, house_use or close."""

    kind: str
    gross_g: int | None = None
    temperature_mc: int | None = None
    volume_ul: int | None = None
    used_by: int | None = None


def open_new(session: Session, site: Site, origin: EntryOrigin, opening: Opening, now: datetime) -> int:
    """Open a bottle of what is approved in its room, and return its id.

    Raises NotApproved, Malformed, and FigureError for a full bottle lighter than its content.
    """
    known = session.scalar(select(bottle_entries.c.bottle_id).where(bottle_entries.c.key == origin.key))
    if known is not None:
        return int(known)
    approval = _approval(session, site, opening.approval_id, opening.room, now)
    if opening.kind not in KINDS or not 0 < opening.size_ml <= LARGEST_ML or opening.room not in site.rooms:
        raise Malformed(part="bottle")
    _demand_weight(site, approval, opening)
    values = {
        "code": _code(session, approval),
        "approval_id": approval.id,
        "room": opening.room,
        "kind": opening.kind,
        "size_ml": opening.size_ml,
        "tare_g": opening.tare_g,
        "discard_at": opening.discard_at,
    }
    bottle_id = rows.insert(session, bottles, values)
    weighed = BottleEntryForm("open", opening.gross_g, opening.temperature_mc)
    ledgers.append(session, bottle_entries, _values(origin, bottle_id, weighed, now))
    return bottle_id


def enter(
    session: Session, site: Site, origin: EntryOrigin, bottle_id: int, told: BottleEntryForm, now: datetime
) -> str:
    """Record what is told about a bottle; return "recorded", or "held" for a weighing that cannot be.

    Raises UnknownBottle, BottleEnded and Malformed.
    """
    session.execute(select(bottles.c.id).where(bottles.c.id == bottle_id).with_for_update())
    bottle = one_bottle(session, site, bottle_id)
    if bottle is None:
        raise UnknownBottle()
    known = any(entry.key == origin.key for entry in bottle.entries)
    if not known:
        _demand_sense(session, bottle, told)
        if _cannot_be(bottle, told):
            _hold(session, origin, bottle, told, now)
            return "held"
    ledgers.append(session, bottle_entries, _values(origin, bottle_id, told, now), ignoring={"at"})
    return "recorded"


def held_weighings(session: Session) -> list[Any]:
    """Return the weighings that wait for the manager: id, revision, what was sent, why, when."""
    h = held.c
    waiting = select(h.id, h.revision, h.payload, h.reasons, h.at).where(
        h.kind == HELD, h.settled_at.is_(None)
    )
    return list(session.execute(waiting.order_by(h.at, h.id)))


def settle(session: Session, held_id: int, revision: int, *, by: int, at: datetime) -> None:
    """Set a held weighing aside after a look at the bottle; weighing it again is the other way out."""
    settled = {"settled_at": at, "settled_by": by, "outcome": "set_aside"}
    rows.change(session, held, held_id, revision, settled, by=by, at=at, why="looked at")


def _approval(session: Session, site: Site, approval_id: int, room: str, at: datetime) -> Any:
    row = session.execute(select(approvals).where(approvals.c.id == approval_id)).one_or_none()
    if row is None or not covers(row, room, site, at):
        raise NotApproved()
    return row


def _demand_weight(site: Site, approval: Any, opening: Opening) -> None:
    known = site.products.get(approval.product)
    abv_e2 = approval.abv_e2 if approval.abv_e2 is not None else known.abv_e2 if known else 0
    density = density_of(site, approval.product, abv_e2, approval.density_e4)
    if opening.gross_g is not None and opening.tare_g is None and density is not None:
        tare_at_opening_g(opening.gross_g, opening.size_ml, density)


def _code(session: Session, approval: Any) -> str:
    before = select(func.count()).select_from(bottles).where(bottles.c.approval_id == approval.id)
    return f"{approval.code[:34]}/{session.execute(before).scalar_one() + 1}"


def _demand_sense(session: Session, bottle: BottleOnShelf, told: BottleEntryForm) -> None:
    if bottle.account().ended_at is not None:
        raise BottleEnded(code=bottle.code)
    needs = {"weigh": told.gross_g, "spill": told.volume_ul, "house_use": told.volume_ul}
    if told.kind not in {*needs, "break", "close"} or (told.kind in needs and needs[told.kind] is None):
        raise Malformed(part=told.kind)
    if told.volume_ul is not None and not 0 <= told.volume_ul <= bottle.size_ml * 1000:
        raise Malformed(part="volume_ul")
    if told.kind == "house_use" and not _works_here(session, told.used_by):
        raise Malformed(part="used_by")


def _works_here(session: Session, staff_id: int | None) -> bool:
    return session.execute(select(staff.c.id).where(staff.c.id == staff_id)).first() is not None


def _cannot_be(bottle: BottleOnShelf, told: BottleEntryForm) -> str | None:
    now_holds = bottle.account()
    if told.gross_g is None or now_holds.tare_g is None or bottle.density_g_ml is None:
        return None
    return rejection(told.gross_g, now_holds.tare_g, now_holds.weighed)


def _hold(
    session: Session, origin: EntryOrigin, bottle: BottleOnShelf, told: BottleEntryForm, now: datetime
) -> None:
    payload = {"key": origin.key, "bottle_id": bottle.id, "kind": told.kind, "gross_g": told.gross_g}
    payload |= {"code": bottle.code, "by": origin.by}
    waiting = select(held.c.payload).where(held.c.kind == HELD, held.c.settled_at.is_(None))
    if all(other["key"] != origin.key for other in session.scalars(waiting)):
        reason = _cannot_be(bottle, told)
        values = {"kind": HELD, "payload": payload, "reasons": [reason], "at": now}
        rows.insert(session, held, values)


def _values(origin: EntryOrigin, bottle_id: int, told: BottleEntryForm, now: datetime) -> dict[str, object]:
    return {
        "key": origin.key,
        "at": origin.at(now),
        "recorded_at": now,
        "by": origin.by,
        "device_id": origin.device_id,
        "bottle_id": bottle_id,
        "kind": told.kind,
        "gross_g": told.gross_g,
        "temperature_mc": told.temperature_mc,
        "volume_ul": told.volume_ul,
        "used_by": told.used_by,
    }
