"""The bottles of a room by their records: what each holds, what left it and by which pours.

A glass comes from the bottle of its product that was opened last in its room.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Row,
    ScalarSelect,
    Select,
    bindparam,
    exists,
    literal_column,
    or_,
    select,
)
from sqlalchemy.orm import Session

from kiosk.figures.service.bottles import (
    Bottle,
    BottleAccount,
    BottleEntry,
    Fate,
    OpenBottles,
    account,
    by_pour,
    plain_density_g_ml,
)
from kiosk.figures.service.servings import Pour, PourMark
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import approvals, bottle_entries, bottles, pour_marks, pours
from kiosk.store.tables.tours import tours
from kiosk.tasting.errors import TastingError
from kiosk.words.catalogs import N_


class NotApproved(TastingError):
    """Only what a manager approved for this room and day is opened or kept here."""

    message = N_("This is not approved for this room today: a manager has to approve it first.")


ENDS = ("close", "break")

LATEST: Any = literal_column("24")
"""The number of the newest bottles of a product that are searched for an open one.

It is written into the statement, like every limit on an entry's path: SQLite would plan a statement with a
parameter there anew each time, which costs more than all the rest of it."""


def opened_last() -> Select[Any]:
    """Return the query for the last opening of a bottle, by the parameters `room`, `product` and `at`.

    A bottle counts until it was closed or broken, so that a glass entered later comes from the bottle that
    was open at the glass's own time.
    """
    e, ended = bottle_entries.c, bottle_entries.alias("ended").c
    at: Any = bindparam("at", type_=e.at.type)
    recent = (
        select(bottles.c.id)
        .join_from(bottles, approvals, bottles.c.approval_id == approvals.c.id)
        .where(bottles.c.room == bindparam("room"), approvals.c.product == bindparam("product"))
        .order_by(bottles.c.id.desc())
        .limit(LATEST)
        .subquery("recent")
    )
    ends = or_(*(ended.kind == kind for kind in ENDS))
    over = exists().where(ended.bottle_id == e.bottle_id, ends, ended.at <= at)
    return (
        select(e.key, e.at, e.bottle_id)
        .join_from(recent, bottle_entries, e.bottle_id == recent.c.id)
        .where(e.kind == "open", e.at <= at, ~over)
        .order_by(e.at.desc(), e.key.desc())
        .limit(literal_column("1"))
    )


_OPENED_LAST = opened_last()


def open_bottle(session: Session, room: str, product: str, at: datetime) -> int | None:
    """Return the id of the bottle that a product is poured from in a room, or None if none is open."""
    row = session.connection().execute(_OPENED_LAST, {"room": room, "product": product, "at": at})
    opening = row.one_or_none()
    return None if opening is None else int(opening.bottle_id)


def open_products(session: Session, room: str, at: datetime) -> set[str]:
    """Return the products of which a bottle is open in a room; none where no bottles are kept on record."""
    e, ended = bottle_entries.c, bottle_entries.alias("ended").c
    over = exists().where(ended.bottle_id == bottles.c.id, ended.kind.in_(ENDS), ended.at <= at)
    opened = (
        select(approvals.c.product)
        .distinct()
        .join_from(bottles, approvals, bottles.c.approval_id == approvals.c.id)
        .join(bottle_entries, e.bottle_id == bottles.c.id)
        .where(bottles.c.room == room, e.kind == "open", e.at <= at, ~over)
    )
    return set(session.scalars(opened))


Poured = Sequence[tuple[Pour, Fate]]


@dataclass(frozen=True, slots=True)
class BottleOnShelf:
    """A bottle with its entries and pours; `density_g_ml` is None if its level cannot be weighed."""

    id: int
    code: str
    product: str
    room: str
    kind: str
    size_ml: int
    tare_g: int | None
    discard_at: datetime | None
    abv_e2: int
    density_g_ml: float | None
    entries: tuple[BottleEntry, ...]
    pours: tuple[tuple[Pour, Fate], ...]

    @property
    def vessel(self) -> Bottle:
        """The bottle as the figures take it; an unknown density is that of ethanol and water."""
        abv = self.abv_e2 / 100
        density = self.density_g_ml if self.density_g_ml is not None else plain_density_g_ml(abv)
        return Bottle(self.size_ml, density, abv, self.tare_g)

    def account(self, until: datetime | None = None) -> BottleAccount:
        """Return the bottle's balance by its entries and pours before `until`, or by all of them."""
        entries = [entry for entry in self.entries if until is None or entry.at < until]
        if self.density_g_ml is None:  # a weight says nothing without a density
            entries = [BottleEntry(e.key, e.at, e.kind, volume_ul=e.volume_ul) for e in entries]
        poured = [(pour, fate) for pour, fate in self.pours if until is None or pour.at < until]
        return account(self.vessel, entries, poured)


def density_of(site: Site, product: str, abv_e2: int, density_e4: int | None) -> float | None:
    """Return a spirit's density in g/mL at 20 °C, or None for a product with sugar that was not measured.

    It is the density measured with the lot, else that of ethanol and water at `abv_e2` hundredths of % vol.
    """
    if density_e4 is not None:
        return density_e4 / 10_000
    known = site.products.get(product)
    if known is None or known.sugar_g_per_l:
        return None
    return plain_density_g_ml(abv_e2 / 100)


def still_open(room: str | ScalarSelect[str]) -> Select[tuple[int]]:
    """Return the query for the ids of a room's bottles that have not ended."""
    e = bottle_entries.alias("ended").c
    over = exists().where(e.bottle_id == bottles.c.id, e.kind.in_(ENDS))
    return select(bottles.c.id).where(bottles.c.room == room, ~over)


def strength_e2(site: Site, product: str, approved_e2: int | None) -> int:
    """Return hundredths of % vol: the strength of an approval, else of the site's product, else 0."""
    known = site.products.get(product)
    return approved_e2 if approved_e2 is not None else known.abv_e2 if known else 0


def shelf(session: Session, site: Site, room: str, since: datetime | None = None) -> list[BottleOnShelf]:
    """Return a room's bottles that had not ended before `since`, or that are open now."""
    if since is None:
        return _read(session, site, _bottles().where(bottles.c.id.in_(still_open(room))))
    e = bottle_entries.c
    over = exists().where(e.bottle_id == bottles.c.id, e.kind.in_(ENDS), e.at < since)
    return _read(session, site, _bottles().where(bottles.c.room == room, ~over))


def open_bottles(session: Session, site: Site) -> dict[tuple[str, str], OpenBottles]:
    """Return what is left in the open bottles of each product, by room and product."""
    left: dict[tuple[str, str], OpenBottles] = {}
    for room in site.rooms:
        for bottle in shelf(session, site, room):
            before = left.get((room, bottle.product), OpenBottles(0.0, bottle.size_ml))
            level_ml = max(0.0, bottle.account().level_ul / 1000)
            left[room, bottle.product] = OpenBottles(before.left_ml + level_ml, bottle.size_ml)
    return left


def find_bottle(session: Session, site: Site, bottle_id: int) -> BottleOnShelf | None:
    """Return a bottle with its entries and pours by its id, or None."""
    return next(iter(_read(session, site, _bottles().where(bottles.c.id == bottle_id))), None)


def _bottles() -> Select[Any]:
    b, r = bottles.c, approvals.c
    record = (b.id, b.code, r.product, b.room, b.kind, b.size_ml, b.tare_g, b.discard_at)
    query = select(*record, r.abv_e2, r.density_e4).join_from(bottles, approvals)
    return query.order_by(r.product, b.id)


def _read(session: Session, site: Site, wanted: Select[Any]) -> list[BottleOnShelf]:
    rows = session.execute(wanted).all()
    ids = [row.id for row in rows]
    entries, poured = _entries(session, ids), _poured(session, ids)
    return [_shelved(site, row, entries[row.id], poured[row.id]) for row in rows]


def _shelved(site: Site, row: Any, entries: Sequence[BottleEntry], poured: Poured) -> BottleOnShelf:
    values = dict(row._mapping)
    values["abv_e2"] = abv_e2 = strength_e2(site, row.product, row.abv_e2)
    values["density_g_ml"] = density_of(site, row.product, abv_e2, values.pop("density_e4"))
    return BottleOnShelf(**values, entries=tuple(entries), pours=tuple(poured))


def _entries(session: Session, ids: Sequence[int]) -> Mapping[int, list[BottleEntry]]:
    e = bottle_entries.c
    by_bottle: dict[int, list[BottleEntry]] = defaultdict(list)
    rows = session.execute(
        select(e.bottle_id, e.key, e.at, e.kind, e.gross_g, e.temperature_mc, e.volume_ul).where(
            e.bottle_id.in_(ids)
        )
    )
    for row in rows:
        warm = None if row.temperature_mc is None else row.temperature_mc / 1000
        entry = BottleEntry(row.key, row.at, row.kind, row.gross_g, warm, row.volume_ul)
        by_bottle[row.bottle_id].append(entry)
    return by_bottle


def _poured(session: Session, ids: Sequence[int]) -> Mapping[int, list[tuple[Pour, Fate]]]:
    rows, corrections = read_pours(session, pours.c.bottle_id.in_(ids), pours.c.bottle_id)
    by_bottle: dict[int, list[tuple[Pour, Fate]]] = defaultdict(list)
    for pour, fate in by_pour([pour_of(row) for row in rows.values()], corrections):
        by_bottle[rows[pour.key].bottle_id].append((pour, fate))
    return by_bottle


POUR: tuple[Column[Any], ...] = (
    *(pours.c.key, pours.c.at, pours.c.guest_id, pours.c.tour_id, pours.c.product),
    *(pours.c.volume_ul, pours.c.abv_e2, pours.c.neat, pours.c.recipe, pours.c.server_checked),
)
"""The columns of a `Pour`, in its order."""
UNDONE = exists().where(
    pour_marks.c.pour_key == pours.c.key,
    pour_marks.c.kind.in_(("void", "not_served", "cleared")),
    pour_marks.c.server_checked,
)
"""The condition that no guest had a pour in the end: it was undone, poured and not served, or cleared."""
_CORRECTIONS = pour_marks.alias("corrections")  # so that a condition may ask for corrections of its own
_MARK = tuple(
    _CORRECTIONS.c[name] for name in ("key", "at", "pour_key", "kind", "guest_id", "server_checked", "reason")
)
"""The columns of a `PourMark`, in its order."""


def read_pours(
    session: Session, which: ColumnElement[bool], *columns: ColumnElement[Any]
) -> tuple[dict[str, Row[Any]], list[PourMark]]:
    """Return pours by their keys and all their corrections, in one query.

    `which` selects them, by their own columns and those of their tours; a row has the columns of a
    `Pour` and the further `columns` asked for.
    """
    query = (
        select(*POUR, *columns, *(one.label(f"mark_{one.name}") for one in _MARK))
        .join_from(pours, tours, pours.c.tour_id == tours.c.id)
        .outerjoin(_CORRECTIONS, _CORRECTIONS.c.pour_key == pours.c.key)
        .where(which)
    )
    rows, corrections = {}, []
    for row in session.execute(query):
        rows[row.key] = row
        if row.mark_key is not None:
            corrections.append(PourMark(*row[-len(_MARK) :]))
    return rows, corrections


def pour_of(row: Row[*tuple[Any, ...]]) -> Pour:
    """Return the pour of a row that `read_pours` returned."""
    return Pour(*row[: len(POUR)])
