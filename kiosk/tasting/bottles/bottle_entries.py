"""Entries about bottles: opening, weighing, spills, breakage, house use and closing.

Every entry may be sent again under its key. Nothing here adds to a bottle: bottles are not topped up and
part bottles are not joined.
"""

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.service.bottles import rejection, tare_at_opening_g
from kiosk.site.settings import Site
from kiosk.staff.people import is_staff
from kiosk.store import ledgers, rows
from kiosk.store.tables.production import held
from kiosk.store.tables.tasting import approvals, bottle_entries, bottles
from kiosk.tasting.approvals.approvals import covers
from kiosk.tasting.bottles.shelf import BottleOnShelf, NotApproved, density_of, find_bottle, strength_e2
from kiosk.tasting.errors import TastingError
from kiosk.words.catalogs import N_


class BottleEnded(TastingError):
    """A bottle that was closed or broken takes no more entries."""

    status = 409
    message = N_("Bottle {code} is closed already.")


class UnknownBottle(TastingError):
    """An entry speaks of a bottle that is not on record."""

    status = 404
    message = N_("There is no such bottle.")


KINDS = ("bottle", "jug")
LARGEST_ML = 20_000
HELD = "bottle_entries"
"""The kind under which an implausible weighing is held for the manager."""


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
    """One entry about an open bottle; `kind` is weigh, spill, break, house_use or close."""

    kind: str
    gross_g: int | None = None
    temperature_mc: int | None = None
    volume_ul: int | None = None
    used_by: int | None = None


def record_opening(session: Session, site: Site, origin: EntryOrigin, opening: Opening, now: datetime) -> int:
    """Record the opening of a bottle that an approval covers in its room, and return the bottle's id.

    Raises NotApproved, Malformed, and FigureError for a full bottle lighter than its content.
    """
    recorded = session.scalar(select(bottle_entries.c.bottle_id).where(bottle_entries.c.key == origin.key))
    if recorded is not None:
        return int(recorded)
    approval = _approval(session, site, opening.approval_id, opening.room, now)
    if opening.kind not in KINDS or not 0 < opening.size_ml <= LARGEST_ML or opening.room not in site.rooms:
        raise Malformed(part="bottle")
    _check_weight(site, approval, opening)
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
    weighing = BottleEntryForm("open", opening.gross_g, opening.temperature_mc)
    ledgers.append(session, bottle_entries, _values(origin, bottle_id, weighing, now))
    return bottle_id


def record_entry(
    session: Session, site: Site, origin: EntryOrigin, bottle_id: int, form: BottleEntryForm, now: datetime
) -> str:
    """Record an entry about a bottle and return "recorded"; an implausible weighing is "held".

    Raises UnknownBottle, BottleEnded and Malformed.
    """
    session.execute(select(bottles.c.id).where(bottles.c.id == bottle_id).with_for_update())
    bottle = find_bottle(session, site, bottle_id)
    if bottle is None:
        raise UnknownBottle()
    _check_form(session, bottle, form)  # also what is sent again: under its key it may say something else
    if all(entry.key != origin.key for entry in bottle.entries):
        if bottle.account().ended_at is not None:
            raise BottleEnded(code=bottle.code)
        if _rejection(bottle, form):
            _hold(session, origin, bottle, form, now)
            return "held"
    ledgers.append(session, bottle_entries, _values(origin, bottle_id, form, now), ignoring={"at"})
    return "recorded"


def held_weighings(session: Session) -> list[Any]:
    """Return the weighings held for the manager: rows of what is held."""
    query = select(held).where(held.c.kind == HELD, held.c.settled_at.is_(None))
    return list(session.execute(query.order_by(held.c.at, held.c.id)))


def record_held_weighing(session: Session, weighing: Row[Any], *, at: datetime) -> None:
    """Record a weighing as it was held: the balance leaves out a weight that cannot be, and names it.

    It is entered in the name that it claims, as of when it was held, and recorded `at`.
    """
    sent = weighing.payload
    form = {name: sent.get(name) for name in ("kind", "gross_g", "temperature_mc", "volume_ul", "used_by")}
    origin = EntryOrigin(sent["key"], sent["by"], weighing.device_id, happened_at=weighing.at)
    values = {**origin.values(weighing.at, at), **form, "bottle_id": sent["bottle_id"]}
    ledgers.append(session, bottle_entries, values)


def _approval(session: Session, site: Site, approval_id: int, room: str, at: datetime) -> Any:
    row = session.execute(select(approvals).where(approvals.c.id == approval_id)).one_or_none()
    if row is None or not covers(row, room, site, at):
        raise NotApproved()
    return row


def _check_weight(site: Site, approval: Any, opening: Opening) -> None:
    abv_e2 = strength_e2(site, approval.product, approval.abv_e2)
    density = density_of(site, approval.product, abv_e2, approval.density_e4)
    if opening.gross_g is not None and opening.tare_g is None and density is not None:
        tare_at_opening_g(opening.gross_g, opening.size_ml, density)


def _code(session: Session, approval: Any) -> str:
    before = select(func.count()).select_from(bottles).where(bottles.c.approval_id == approval.id)
    return f"{approval.code[:34]}/{session.execute(before).scalar_one() + 1}"


def _check_form(session: Session, bottle: BottleOnShelf, form: BottleEntryForm) -> None:
    needs = {"weigh": form.gross_g, "spill": form.volume_ul, "house_use": form.volume_ul}
    if form.kind not in {*needs, "break", "close"} or (form.kind in needs and needs[form.kind] is None):
        raise Malformed(part=form.kind)
    if form.volume_ul is not None and not 0 <= form.volume_ul <= bottle.size_ml * 1000:
        raise Malformed(part="volume_ul")
    if form.kind == "house_use" and not is_staff(session, form.used_by):
        raise Malformed(part="used_by")


def _rejection(bottle: BottleOnShelf, form: BottleEntryForm) -> str | None:
    account = bottle.account()
    if form.gross_g is None or account.tare_g is None or bottle.density_g_ml is None:
        return None
    return rejection(form.gross_g, account.tare_g, account.weighed)


def _hold(
    session: Session, origin: EntryOrigin, bottle: BottleOnShelf, form: BottleEntryForm, now: datetime
) -> None:
    payload = {"key": origin.key, "bottle_id": bottle.id, **asdict(form), "code": bottle.code}
    payload |= {"by": origin.by}
    if session.execute(select(held.c.id).where(held.c.digest == origin.key)).first() is None:
        values = {"kind": HELD, "payload": payload, "reasons": [_rejection(bottle, form)], "at": now}
        rows.insert(session, held, {**values, "device_id": origin.device_id, "digest": origin.key})


def _values(origin: EntryOrigin, bottle_id: int, form: BottleEntryForm, now: datetime) -> dict[str, object]:
    return {**origin.values(origin.at(now), now), **asdict(form), "bottle_id": bottle_id}
