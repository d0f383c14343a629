"""The form of an approval as it was typed, and the list of approvals for staff."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from sqlalchemy import Row, Select, and_, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Unit
from kiosk.site.settings import Site, Units
from kiosk.store.tables.production import batches, casks, fills
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.approvals.approving import NEEDED, ApprovalFaults, NewApproval
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import NumberFault, parse_number
from kiosk.words.units import from_us

T = TypeVar("T")

NO_DAY = N_("This is not a day of the calendar.")
MOST = Decimal(1_000_000)


def parse_approval(
    typed: Mapping[str, str], rooms: Iterable[str], taken_mc: int | None, site: Site, words: Words
) -> NewApproval:
    """Return a form's new approval. Raises ApprovalFaults for numbers and days that cannot be read."""
    faults: dict[str, tuple[str, Mapping[str, object]]] = {}

    def read(name: str, reading: Callable[[str], T]) -> T | None:
        try:
            return reading(typed[name]) if typed.get(name) else None
        except NumberFault as fault:
            faults[name] = (fault.message, fault.facts)
        except ValueError:
            faults[name] = (NO_DAY, {})
        return None

    def times(factor: int | Decimal) -> Callable[[str], int]:
        return lambda text: round(min(parse_number(text, words), MOST) * factor)

    unit_ml = from_us(1, Unit.ML) if site.units is Units.US else 1
    from_on, until_on = read("from_on", date.fromisoformat), read("until_on", date.fromisoformat)
    approval = NewApproval(
        **{name: typed.get(name, "") for name in ("code", "kind", "product", "source", "abv_basis")},
        **{name: typed.get(name, "") for name in ("document", "formula")},
        abv_e2=read("abv_percent", times(100)),
        density_e4=read("density", times(10_000)),
        rooms=tuple(rooms),
        from_on=from_on or date.min,
        until_on=until_on,
        taken_ul=read("taken", times(unit_ml * 1000)),
        taken_mc=taken_mc,
        nothing_added=bool(typed.get("nothing_added")),
    )
    if from_on is None and "from_on" not in faults:
        faults["from_on"] = (NEEDED, {})
    if faults:
        raise ApprovalFaults(faults)
    return approval


ENDS_SOON = timedelta(days=7)
LISTED_AFTER_END = timedelta(days=30)
"""How long an ended approval stays on the page."""

KINDS: Mapping[str, str] = {
    "bottled": N_("bottled"),
    "cask_sample": N_("cask sample"),
    "new_make": N_("new make"),
    "experiment": N_("experiment"),
    "mixed": N_("mixed drink"),
}


@dataclass(frozen=True, slots=True)
class ApprovalsPage:
    """The approvals in force `now`, by room in the site's order, those to come, and those ended lately.

    Each is its row with the code of its `source`, the name of its `signer`, and who ended it and why.
    """

    now: Mapping[str, list[Row[Any]]]
    coming: list[Row[Any]]
    ended: list[Row[Any]]
    soon: date  # an approval whose last day lies before it ends soon


def approvals_page(session: Session, site: Site, at: datetime) -> ApprovalsPage:
    """Return the approvals in force at an instant, those to come, and those ended in the last 30 days."""
    day = site.service_day(at)
    every = session.execute(_with_names(day - LISTED_AFTER_END)).all()
    over = [one for one in every if one.ended_at or (one.until_on and one.until_on < day)]
    coming = [one for one in every if one not in over and one.from_on > day]
    here = [one for one in every if one not in over and one not in coming]
    now = {room: [one for one in here if room in one.rooms] for room in site.rooms}
    return ApprovalsPage(now, coming, over, day + ENDS_SOON)


def _with_names(since: date) -> Select[Any]:
    r, h, ender = approvals.c, history.c, staff.alias("ender")
    last_change = and_(
        h.table_name == approvals.name,
        h.row_id == r.id,
        h.revision == r.revision - 1,
        r.ended_at.is_not(None),
    )
    source = func.coalesce(casks.c.code, batches.c.code).label("source")
    names = (staff.c.name.label("signer"), ender.c.name.label("ended_by"), h.why.label("ended_why"))
    rows = select(approvals, source, *names).join(staff, staff.c.id == r.signed_by)
    rows = rows.outerjoin(batches, batches.c.id == r.batch_id).outerjoin(fills, fills.c.id == batches.c.id)
    rows = rows.outerjoin(casks, casks.c.id == fills.c.cask_id)
    rows = rows.outerjoin(history, last_change).outerjoin(ender, ender.c.id == h.by)
    return rows.where(r.until_on.is_(None) | (r.until_on >= since)).order_by(r.product, r.code)
