"""The codes that fields of forms suggest, each with what it names holds."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Select, func, null, select
from sqlalchemy.orm import Session, aliased

from kiosk.production.records.fields import Field
from kiosk.production.records.kinds import KINDS
from kiosk.store.tables import production as t

MOST = 200
"""A longer list is no help in choosing a code; it is typed then."""


Suggested = tuple[str, float | None, float | None]
"""A code, and what it names: litres held or what a vessel holds, and % vol, where they are known."""


def suggested_codes(session: Session, fields: Sequence[Field], form: str) -> dict[str, list[Suggested]]:
    """Return the codes that each field of a form suggests, newest first, with what each holds."""
    codes, contents = {}, _contents(session)
    for field in fields:
        name = re.sub(r"_\d+$", "", field.name)
        query = _empty_casks() if (form, name) == ("cask-fill", "cask") else _QUERIES.get(name)
        if query is not None:
            codes[field.name] = [
                (code, *contents.get(code, (None, None))) for code in session.scalars(query.limit(MOST))
            ]
    return codes


def recorded_codes(session: Session, fields: Sequence[Field]) -> dict[str, list[Suggested]]:
    """Return the codes that each field of a record may name, in use or not, newest first, with contents.

    A correction may name what was ended or emptied since, which the form of a new record does not suggest.
    """
    codes, contents = {}, _contents(session)
    for field in fields:
        if field.refers:
            known = session.scalars(_every(field.refers).limit(MOST))
            codes[field.name] = [(code, *contents.get(code, (None, None))) for code in known]
    return codes


def _every(kind: str) -> Select[Any]:
    """Select every code of a kind; of every kind of batch where a field says of which it is."""
    if kind in _TABLES:
        return select(_TABLES[kind].c.code).order_by(_TABLES[kind].c.code)
    b = t.batches.c
    of_kind = [] if kind.endswith("_kind") else [b.kind == kind]
    return select(b.code).where(*of_kind).order_by(b.id.desc())


_TABLES = {kind.named: kind.table for kind in KINDS if kind.named}


def _contents(session: Session) -> dict[str, tuple[float, float | None]]:
    """Return litres and % vol by code: of open fills as last gauged, by cask too, and of other batches."""
    contents = {}
    for query in _CONTENTS:
        for code, ml, alcohol_ml in session.execute(query):
            abv_percent = 100 * alcohol_ml / ml if ml and alcohol_ml is not None else None
            contents[code] = (ml / 1000, abv_percent)
    return contents


def _open(table: Any, until: Any) -> Select[Any]:
    b = t.batches.c
    return select(b.code).join(table, table.c.id == b.id).where(until.is_(None)).order_by(b.id.desc())


def _casks() -> Select[Any]:
    c, f = t.casks.c, t.fills.c
    return select(c.code).join(t.fills, f.cask_id == c.id).where(f.emptied_at.is_(None)).order_by(f.id.desc())


def _empty_casks() -> Select[Any]:
    c, f = t.casks.c, t.fills.c
    filled = select(f.id).where(f.cask_id == c.id, f.emptied_at.is_(None)).exists()
    return select(c.code).where(~filled).order_by(c.code)


def _batches(kind: str) -> Select[Any]:
    b = t.batches.c
    return select(b.code).where(b.kind == kind).order_by(b.id.desc())


def _sources() -> Select[Any]:
    """Select washes that stand, casks that are full, and what was received, gauged or blended last."""
    b = t.batches.c
    gone = select(t.fills.c.id).where(t.fills.c.emptied_at.is_not(None))
    done = select(t.washes.c.id).where(t.washes.c.ended_at.is_not(None))
    kinds = ("wash", "receiver", "fill", "blend", "received")
    return select(b.code).where(b.kind.in_(kinds), b.id.not_in(gone), b.id.not_in(done)).order_by(b.id.desc())


def _free(table: Any, *kinds: str) -> Select[Any]:
    """Select the tanks or stills in which nothing is under way."""
    v, c = t.vessels.c, table.c
    taken = select(c.id).where(c.vessel_id == v.id, c.ended_at.is_(None)).exists()
    return select(v.code).where(v.kind.in_(kinds), ~taken).order_by(v.code)


_QUERIES: Mapping[str, Select[Any]] = {
    "cask": _casks(),
    "wash": _open(t.washes, t.washes.c.ended_at),
    "run": _open(t.runs, t.runs.c.ended_at),
    "field": _batches("field"),
    "from": _sources(),
    "load": _batches("load"),
    "tank": _free(t.washes, "tank"),
    "still": _free(t.runs, "wash_still", "spirit_still"),
    "vat": select(t.vessels.c.code).where(t.vessels.c.kind.in_(("vat", "tank"))).order_by(t.vessels.c.code),
    **dict.fromkeys(("store", "to_store"), select(t.stores.c.code).order_by(t.stores.c.code)),
}


def _gauged(code: Any) -> Select[Any]:
    """Select code, volume and alcohol of the open fills by their newest gauges."""
    g, f, b = t.gauges.c, t.fills.c, t.batches.c
    later = aliased(t.gauges).c
    newest = select(func.max(later.at)).where(later.fill_id == f.id).correlate(t.fills).scalar_subquery()
    query = select(code, g.volume20_ml, g.alcohol_ml).join_from(t.fills, t.gauges, g.fill_id == f.id)
    query = query.join(t.casks, t.casks.c.id == f.cask_id).join(t.batches, b.id == f.id)
    return query.where(f.emptied_at.is_(None), g.at == newest)


def _held(table: Any, ml: Any, alcohol_ml: Any = None) -> Select[Any]:
    """Select the codes of the newest batches of a table with volume and alcohol."""
    b = t.batches.c
    query = select(b.code, ml, null() if alcohol_ml is None else alcohol_ml).join(table, table.c.id == b.id)
    return query.where(ml.is_not(None)).order_by(b.id.desc()).limit(MOST)


_CONTENTS: Sequence[Select[Any]] = (
    select(t.vessels.c.code, t.vessels.c.capacity_ml, null()),
    _held(t.loads, t.loads.c.juice_ml),
    _held(t.washes, t.washes.c.volume_ml),
    *(_held(one, one.c.volume20_ml, one.c.alcohol_ml) for one in (t.receivers, t.received, t.blends)),
    _gauged(t.batches.c.code),
    _gauged(t.casks.c.code),
)
