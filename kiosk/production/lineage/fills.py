"""Fills of casks with their gauges, events and draws, read in a fixed number of queries."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Column, ColumnElement, ScalarSelect, Select, select, true
from sqlalchemy.orm import Session, aliased

from kiosk.figures.casks import Event, EventKind, Fill, Gauge, How, gauged
from kiosk.production.runs.instruments import needs_temperature
from kiosk.store.tables import production as t
from kiosk.store.tables.shared import history

Row = Mapping[Any, Any]
Former = Mapping[str, Mapping[int, Row]]
"""Rows of gauges, cask events and draws as they were before a correction, by table and id."""
UNCHANGED: Former = {}


def read_fills(
    session: Session, only: ScalarSelect[int] | None = None, former: Former = UNCHANGED
) -> dict[int, Fill]:
    """Return every fill by its id, with gauges, events and what was drawn out of it.

    `only` selects the ids of those that are wanted, where not all are. With `former` rows the
    fills are as they were before the corrections of those.
    """
    gauges, events = _gauges(session, only, former), _events(session, only, former)
    f, times_filled = t.fills.c, Counter[str]()
    rows = session.execute(
        select(
            f.id,
            t.batches.c.code,
            t.stores.c.code,
            f.filled_at,
            f.emptied_at,
            t.casks.c.wood,
            t.casks.c.code,
            f.id.in_(topped_fills()),
        )
        .join(t.batches, t.batches.c.id == f.id)
        .join(t.stores, t.stores.c.id == f.store_id)
        .join(t.casks, t.casks.c.id == f.cask_id)
        .order_by(f.filled_at)
        .where(_among(f.id, only))
    )
    fills = {}
    for row_id, code, store, filled_at, emptied_at, wood, cask, topped in rows:
        times_filled[cask] += not topped or not times_filled[cask]
        own = (tuple(gauges[row_id]), tuple(events[row_id]))
        times = times_filled[cask]
        fills[row_id] = Fill(code, store, filled_at, *own, emptied_at, wood, times, cask, topped)
    return fills


def topped_fills() -> Select[int]:
    """Select the fills into which what lay in the same cask was drawn: the cask was topped up."""
    before, f = aliased(t.fills), t.fills.c
    drawn = select(t.draws.c.to_id).join(t.fills, f.id == t.draws.c.to_id)
    drawn = drawn.join(before, before.c.id == t.draws.c.from_id)
    return drawn.where(before.c.cask_id == f.cask_id)


def _among(column: Column[Any], only: ScalarSelect[int] | None) -> ColumnElement[bool]:
    return true() if only is None else column.in_(only)


def former_rows(session: Session, since: datetime, until: datetime) -> tuple[Former, datetime | None]:
    """Return what was corrected or voided of casks in a time as it was before, and the last correction."""
    h, tables = history.c, (t.gauges.name, t.cask_events.name, t.draws.name)
    query = select(h.table_name, h.row_id, h.before, h.at).where(h.table_name.in_(tables))
    corrections = session.execute(query.where(h.at > since, h.at <= until).order_by(h.revision.desc())).all()
    former: dict[str, dict[int, Row]] = defaultdict(dict)
    for table, row_id, before, _at in corrections:  # the first self comes last and stays
        former[table][row_id] = {**before, "at": datetime.fromisoformat(before["at"])}
    return former, max((one.at for one in corrections), default=None)


def _gauges(session: Session, only: ScalarSelect[int] | None, former: Former) -> dict[int, list[Gauge]]:
    g = t.gauges.c
    gauges: dict[int, list[Gauge]] = defaultdict(list)
    columns = (g[name] for name in ("id", "fill_id", *GAUGE_COLUMNS.split()))
    query = select(*columns).where(_among(g.fill_id, only))
    rows = _as_they_were(session, query, former.get(t.gauges.name))
    for row in sorted(rows, key=lambda row: row["at"]):
        gauges[row["fill_id"]].append(gauge_of(row))
    return gauges


GAUGE_COLUMNS = "at how volume20_ml alcohol_ml scale temperature_mc volume_ml volume_temperature_mc"


def gauge_of(row: Mapping[Any, Any]) -> Gauge:
    """Return a recorded gauge by its `GAUGE_COLUMNS`, less certain where a temperature is not known."""
    litres = row["volume20_ml"] / 1000, row["alcohol_ml"] / 1000
    strength_as_read = row["temperature_mc"] is None and needs_temperature(row["scale"])
    volume_as_read = row["volume_ml"] is not None and row["volume_temperature_mc"] is None
    as_read = {"strength_as_read": strength_as_read, "volume_as_read": volume_as_read}
    return gauged(row["at"], *litres, How(row["how"]), **as_read)


def _events(session: Session, only: ScalarSelect[int] | None, former: Former) -> dict[int, list[Event]]:
    e, d = t.cask_events.c, t.draws.c
    events: dict[int, list[Event]] = defaultdict(list)
    columns = e.id, e.fill_id, e.kind, e.at, e.volume20_ml, e.alcohol_ml, t.stores.c.code
    happened = (
        select(*columns).outerjoin(t.stores, t.stores.c.id == e.store_id).where(_among(e.fill_id, only))
    )
    for row in _as_they_were(session, happened, former.get(t.cask_events.name)):
        amounts = litres(row["volume20_ml"]), litres(row["alcohol_ml"])
        code = row["code"] if "code" in row else _store_code(session, row["store_id"])
        events[row["fill_id"]].append(Event(EventKind(row["kind"]), row["at"], *amounts, code or ""))
    drawn = select(d.id, d.from_id, d.at, d.volume_ml, d.amount).join(t.fills, t.fills.c.id == d.from_id)
    for row in _as_they_were(session, drawn.where(_among(d.from_id, only)), former.get(t.draws.name)):
        amounts = litres(row["volume_ml"]), litres(row["amount"])
        events[row["from_id"]].append(Event(EventKind.TRANSFER, row["at"], *amounts))
    return events


def _as_they_were(session: Session, query: Select[Any], former: Mapping[int, Row] | None) -> Iterable[Row]:
    rows: dict[int, Row] = {row["id"]: row for row in session.execute(query).mappings()}
    return {**rows, **(former or {})}.values()


def _store_code(session: Session, store_id: int | None) -> str | None:
    return session.scalar(select(t.stores.c.code).where(t.stores.c.id == store_id))


def litres(ml: int | None) -> float | None:
    """Return mL as litres; None for what was not measured."""
    return None if ml is None else ml / 1000
