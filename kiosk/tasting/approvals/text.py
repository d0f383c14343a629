"""Approvals as text: the typed form that becomes one, and the list of them for staff."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from kiosk.site.products import BASIS_WORDS, allergens_of
from kiosk.site.settings import Site
from kiosk.store.tables.production import batches, casks, fills
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.approvals.approvals import Approved, counted_e2
from kiosk.tasting.approvals.approving import NEEDED, ApprovalFaults, NewApproval
from kiosk.tasting.room.text import product_name
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import NumberFault, parse_number

T = TypeVar("T")

NO_DAY = N_("This is not a day of the calendar.")
MOST = Decimal(1_000_000)


def parse_approval(
    typed: Mapping[str, str], rooms: tuple[str, ...], taken_mc: int | None, words: Words
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

    def times(factor: int) -> Callable[[str], int]:
        return lambda text: round(min(parse_number(text, words), MOST) * factor)

    from_on, until_on = read("from_on", date.fromisoformat), read("until_on", date.fromisoformat)
    approval = NewApproval(
        **{name: typed.get(name, "") for name in ("code", "kind", "product", "source", "abv_basis")},
        **{name: typed.get(name, "") for name in ("document", "formula")},
        abv_e2=read("abv_percent", times(100)),
        density_e4=read("density", times(10_000)),
        rooms=rooms,
        from_on=from_on or date.min,
        until_on=until_on,
        taken_ul=read("taken_ml", times(1000)),
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
class ApprovalText:
    """An approval as staff read it. `at_most`: its strength is known only as an upper bound."""

    id: int
    revision: int
    code: str
    name: str
    kind: str
    source: str
    abv_percent: float
    at_most: bool
    basis: str
    contains: list[str]
    document: str
    formula: str
    rooms: tuple[str, ...]
    from_on: date
    until_on: date | None
    ends_soon: bool
    signed_by: str
    signed_at: datetime | None
    ended_at: datetime | None
    ended_by: str
    ended_why: str


@dataclass(frozen=True, slots=True)
class ApprovalsPage:
    """The approvals in force `now`, by room in the site's order, those to come, and those ended lately."""

    now: Mapping[str, list[ApprovalText]]
    coming: list[ApprovalText]
    ended: list[ApprovalText]


def approvals_page(session: Session, site: Site, words: Words, at: datetime) -> ApprovalsPage:
    """Return the approvals in force at an instant, those to come, and those ended in the last 30 days."""
    day = site.service_day(at)
    rows = session.execute(_with_names(day - LISTED_AFTER_END)).mappings().all()
    ends = _ends(session, [row["id"] for row in rows])
    every = [_approval_text(row, ends.get(row["id"]), site, words, day) for row in rows]
    over = [one for one in every if one.ended_at or (one.until_on and one.until_on < day)]
    coming = [one for one in every if one not in over and one.from_on > day]
    here = [one for one in every if one not in over and one not in coming]
    return ApprovalsPage(
        {room: [one for one in here if room in one.rooms] for room in site.rooms}, coming, over
    )


def _with_names(since: date) -> Select[Any]:
    r = approvals.c
    source = func.coalesce(casks.c.code, batches.c.code).label("source")
    rows = select(approvals, source, staff.c.name.label("signer")).join(staff, staff.c.id == r.signed_by)
    rows = rows.outerjoin(batches, batches.c.id == r.batch_id).outerjoin(fills, fills.c.id == batches.c.id)
    rows = rows.outerjoin(casks, casks.c.id == fills.c.cask_id)
    return rows.where(r.until_on.is_(None) | (r.until_on >= since)).order_by(r.product, r.code)


def _ends(session: Session, ids: list[int]) -> Mapping[int, Any]:
    """Return who ended an approval and why, by its id."""
    h = history.c
    rows = session.execute(
        select(h.row_id, h.why, staff.c.name)
        .join(staff, staff.c.id == h.by)
        .where(h.table_name == approvals.name, h.row_id.in_(ids))
        .order_by(h.revision)
    )
    return {row.row_id: row for row in rows}


def _approval_text(row: Any, ended: Any, site: Site, words: Words, day: date) -> ApprovalText:
    approval = Approved(row["code"], row["product"], row["abv_e2"], row["abv_basis"])
    until, over = row["until_on"], row["ended_at"]
    kind, basis = row["kind"], row["abv_basis"]
    same = ("id", "revision", "code", "from_on", "until_on", "signed_at", "ended_at")
    return ApprovalText(
        **{name: row[name] for name in same},
        name=product_name(site, row["product"], words),
        kind=words.gettext(KINDS[kind]),
        source=row["source"] or "",
        abv_percent=counted_e2(site, approval) / 100,
        at_most=basis == "not_known",
        basis=words.gettext(BASIS_WORDS[basis]),
        contains=allergens_of(site.products.get(row["product"]), words).names,
        document=row["document"] or "",
        formula=row["formula"] or "",
        rooms=tuple(row["rooms"]),
        ends_soon=until is not None and day <= until < day + ENDS_SOON,
        signed_by=row["signer"],
        ended_by=ended.name if over and ended else "",
        ended_why=ended.why if over and ended else "",
    )
