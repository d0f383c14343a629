"""What may be poured, as staff read it: by room, what ends soon, what is to come, what has ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.stops.allergens import contains
from kiosk.stops.products import BASIS_WORDS
from kiosk.store.tables.production import batches, casks, fills
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import releases
from kiosk.tasting.releases import Released, counted_e2
from kiosk.tasting.showing import product_name
from kiosk.words.catalogs import Words
from kiosk.words.marker import N_

ENDS_SOON = timedelta(days=7)
STILL_SHOWN = timedelta(days=30)
"""How long an ended release stays on the page."""

KINDS: Mapping[str, str] = {
    "bottled": N_("bottled"),
    "cask_sample": N_("cask sample"),
    "new_make": N_("new make"),
    "experiment": N_("experiment"),
    "mixed": N_("mixed drink"),
}


@dataclass(frozen=True, slots=True)
class ShownRelease:
    """A release as text. `at_most`: its strength is not known more closely."""

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
class ReleasesPage:
    """Every release that matters now; `now` by room, in the order of the site's rooms."""

    now: Mapping[str, list[ShownRelease]]
    coming: list[ShownRelease]
    ended: list[ShownRelease]


def releases_page(session: Session, site: Site, words: Words, at: datetime) -> ReleasesPage:
    """Return what is released at `at`, what is to come, and what has ended not long ago."""
    day = site.service_day(at)
    rows = session.execute(_with_names(day - STILL_SHOWN)).mappings().all()
    ends = _ends(session, [row["id"] for row in rows])
    every = [_shown(row, ends.get(row["id"]), site, words, day) for row in rows]
    over = [one for one in every if one.ended_at or (one.until_on and one.until_on < day)]
    coming = [one for one in every if one not in over and one.from_on > day]
    here = [one for one in every if one not in over and one not in coming]
    return ReleasesPage(
        {room: [one for one in here if room in one.rooms] for room in site.rooms}, coming, over
    )


def _with_names(since: date) -> Select[Any]:
    r = releases.c
    source = func.coalesce(casks.c.code, batches.c.code).label("source")
    found = select(releases, source, staff.c.name.label("signer")).join(staff, staff.c.id == r.signed_by)
    found = found.outerjoin(batches, batches.c.id == r.batch_id).outerjoin(fills, fills.c.id == batches.c.id)
    found = found.outerjoin(casks, casks.c.id == fills.c.cask_id)
    return found.where(r.until_on.is_(None) | (r.until_on >= since)).order_by(r.product, r.code)


def _ends(session: Session, ids: list[int]) -> Mapping[int, Any]:
    """Return who ended a release and why, by its id."""
    h = history.c
    found = session.execute(
        select(h.row_id, h.why, staff.c.name)
        .join(staff, staff.c.id == h.by)
        .where(h.table_name == releases.name, h.row_id.in_(ids))
        .order_by(h.revision)
    )
    return {row.row_id: row for row in found}


def _shown(row: Any, ended: Any, site: Site, words: Words, day: date) -> ShownRelease:
    entry = Released(row["code"], row["product"], row["abv_e2"], row["abv_basis"])
    until, over = row["until_on"], row["ended_at"]
    kind, basis = row["kind"], row["abv_basis"]
    same = ("id", "revision", "code", "from_on", "until_on", "signed_at", "ended_at")
    return ShownRelease(
        **{name: row[name] for name in same},
        name=product_name(site, row["product"], words),
        kind=words.gettext(KINDS[kind]),
        source=row["source"] or "",
        abv_percent=counted_e2(site, entry) / 100,
        at_most=basis == "not_known",
        basis=words.gettext(BASIS_WORDS[basis]),
        contains=contains(site.products.get(row["product"]), words).names,
        document=row["document"] or "",
        formula=row["formula"] or "",
        rooms=tuple(row["rooms"]),
        ends_soon=until is not None and day <= until < day + ENDS_SOON,
        signed_by=row["signer"],
        ended_by=ended.name if over and ended else "",
        ended_why=ended.why if over and ended else "",
    )
