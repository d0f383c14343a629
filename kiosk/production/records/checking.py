"""What no record shows alone: loops, draws too late, full casks filled, what is implausible beside others.

All is worked out on a `Projection`, before anything is written, in a few queries
whatever the number of records. Where one record alone is to blame, it is named and its
neighbours pass.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from graphlib import CycleError, TopologicalSorter
from typing import Any, NamedTuple

from sqlalchemy import Table, func, select
from sqlalchemy.orm import Session

from kiosk.figures import making
from kiosk.figures.errors import FigureError
from kiosk.figures.making import Reading
from kiosk.production.lineage.chain import ALCOHOL_ML, Chain, Edge
from kiosk.production.records.building import Record
from kiosk.production.records.cask_checks import check_fills
from kiosk.production.records.codes import PRODUCT, known_products
from kiosk.production.records.faults import FaultCode, RecordFault, large, rounded
from kiosk.production.records.kinds import LOTS
from kiosk.production.records.plausibility import GAUGE_TOLERANCE, blamed_of, implausible_steps, to_blame
from kiosk.production.records.projection import GAUGED, Projection
from kiosk.production.runs.instruments import read_instruments
from kiosk.site.settings import Site
from kiosk.store.tables import production as t

WASH_TOLERANCE = 1.08
"""The same where the alcohol is worked out from two gravities (common practice)."""


class Place(NamedTuple):
    """Where one batch at a time lies: its table, the columns of the vessel and of begin and end."""

    table: Table
    field: str  # as files and forms call the vessel
    vessel: str
    begins: str
    ends: str


PLACES: Mapping[str, Place] = {
    "fill": Place(t.fills, "cask", "cask_id", "filled_at", "emptied_at"),
    "wash": Place(t.washes, "tank", "vessel_id", "set_at", "ended_at"),
    "run": Place(t.runs, "still", "vessel_id", "started_at", "ended_at"),
}


def check(projection: Projection, places: Collection[str] = ("fill",)) -> Iterator[RecordFault]:
    """Yield what speaks against the records that are added or changed; `places` hold one batch at a time."""
    for place in places:
        yield from _in_use(projection, PLACES[place])
    if projection.touched:
        chain = projection.chain()
        drawn = {row["id"]: record for row, record in projection.fresh(t.draws)}
        yield from _loops(chain, drawn)
        yield from _too_late(chain, drawn)
        yield from _over(chain, drawn, projection)
        yield from _bottles(chain, projection)
    if any(projection.fresh(table) for table in (t.fills, t.gauges, t.cask_events)):
        yield from check_fills(projection)
    yield from _runs(projection)


def _in_use(projection: Projection, place: Place) -> Iterator[RecordFault]:
    """Find batches that begin or end while their cask, tank or still holds another."""
    fresh = {row["id"]: record for row, record in projection.fresh(place.table)}
    vessels = {row[place.vessel] for row, _ in projection.fresh(place.table)}
    by_vessel: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
    for row in projection.rows(place.table, f"{place.begins} {place.ends}", place.vessel, vessels):
        by_vessel[row[place.vessel]].append(row)
    for rows in by_vessel.values():
        last: Mapping[str, Any] | None = None
        for row in sorted(rows, key=lambda row: row[place.begins]):
            if last and (last[place.ends] is None or last[place.ends] > row[place.begins]):
                mine, other = (row, last) if row["id"] in fresh else (last, row)
                if record := fresh.get(mine["id"]):
                    yield record.fault(FaultCode.IN_USE, place.field, other=projection.code(other["id"]))
            if last is None or _ends_later(row[place.ends], last[place.ends]):
                last = row


def _ends_later(one: datetime | None, other: datetime | None) -> bool:
    return other is not None and (one is None or one > other)


def _loops(chain: Chain, drawn: Mapping[int, Record]) -> Iterator[RecordFault]:
    before = defaultdict(set)
    for edge in chain.edges:
        before[edge.to_id].add(edge.from_id)
    try:
        TopologicalSorter(before).prepare()
    except CycleError as error:
        ring = set(error.args[1])
        others = ", ".join(sorted(chain.names[one][1] for one in ring))
        for edge in chain.edges:
            if edge.from_id in ring and edge.to_id in ring and edge.id in drawn:
                yield drawn[edge.id].fault(FaultCode.LOOP, "to", others=others)


def _too_late(chain: Chain, drawn: Mapping[int, Record]) -> Iterator[RecordFault]:
    first_out: dict[int, Edge] = {}
    for edge in chain.edges:
        first_out.setdefault(edge.from_id, edge)
    for edge in chain.edges:
        first = first_out.get(edge.to_id)
        if first and edge.at > first.at:
            # Where the draw in was known already, it is the draw out that cannot be.
            record = drawn.get(edge.id) or drawn.get(first.id)
            if record:
                yield record.fault(FaultCode.DRAWN_TOO_LATE, "at", chain.names[edge.to_id][1])


def _over(chain: Chain, drawn: Mapping[int, Record], projection: Projection) -> Iterator[RecordFault]:
    """Find draws over what there was, and gauges of less than was drawn."""
    out: dict[tuple[int, str], list[Edge]] = defaultdict(list)
    estimated = _by_gravities(chain)
    for edge in chain.edges:
        if (edge.from_id, edge.measure) in chain.holds and edge.from_id in projection.touched:
            out[edge.from_id, edge.measure].append(edge)
    for (batch_id, measure), edges in out.items():
        kind, code = chain.names[batch_id]
        holds, total = chain.holds[batch_id, measure], float(sum(edge.amount for edge in edges))
        most = holds * (WASH_TOLERANCE if batch_id in estimated else GAUGE_TOLERANCE)
        facts = {"batch": code, "held": large(holds)}
        fault = FaultCode.OVER_ESTIMATE if kind in ("wash", "run") else FaultCode.OVER
        fault = fault if measure == ALCOHOL_ML else FaultCode.OVER_SUGAR
        if total <= most:
            continue
        own = [edge for edge in edges if edge.id in drawn]
        for edge in reversed(own):
            if total > most:
                column = "alcohol_l" if measure == ALCOHOL_ML else "sugar_kg"
                yield drawn[edge.id].fault(fault, column, large(total), **facts)
                total -= edge.amount
        if not own and kind in GAUGED and (gauge := projection.record(kind, code)):
            yield gauge.fault(FaultCode.OVER, "volume_l", large(total), **facts)


def _by_gravities(chain: Chain) -> frozenset[int]:
    """Return the washes, and the runs charged with them: what they hold is worked out from gravities."""
    washes = {one for one, (kind, _code) in chain.names.items() if kind == "wash"}
    return frozenset({*washes, *(edge.to_id for edge in chain.edges if edge.from_id in washes)})


def _bottles(chain: Chain, projection: Projection) -> Iterator[RecordFault]:
    """Find lots whose bottles hold more than was drawn into them."""
    drawn: dict[int, int] = defaultdict(int)
    naming = {}
    for edge in chain.edges:
        drawn[edge.to_id] += edge.amount
    for row, record in projection.fresh(t.draws):
        naming[row["to_id"]] = record, "alcohol_l"
    for row, record in projection.fresh(t.lots):
        naming[row["id"]] = record, "bottles"
    lots = {one for one in projection.touched if chain.names[one][0] == "lot"}
    for row in projection.rows(t.lots, "bottles bottle_ml abv_e2", "id", lots):
        alcohol_ml = row["bottles"] * row["bottle_ml"] * row["abv_e2"] / 10_000
        if alcohol_ml > drawn[row["id"]] * GAUGE_TOLERANCE and row["id"] in naming:
            record, column = naming[row["id"]]
            held = large(drawn[row["id"]])
            yield record.fault(FaultCode.MORE_BOTTLES, column, large(alcohol_ml), held=held)


def _runs(projection: Projection) -> Iterator[RecordFault]:
    """Find readings of a still that give more than its charge, go back, or fall as no still makes them."""
    fresh: dict[int, dict[datetime, Record]] = defaultdict(dict)
    for row, record in projection.fresh(t.run_readings):
        fresh[row["run_id"]][row["at"]] = record
    if not fresh:
        return
    charged: dict[int, int] = defaultdict(int)
    for row in projection.rows(t.draws, "amount", "to_id", fresh):
        charged[row["to_id"]] += row["amount"]
    for run_id, readings in _readings(projection, fresh).items():
        own = [one for one in readings if one.at in fresh[run_id]]
        wrong = _run_against(charged.get(run_id))
        if fault := wrong(readings):
            code, amount, most = fault
            for one in blamed_of(readings, own, wrong):
                record = fresh[run_id][one.at]
                yield record.fault(code, "collected_l", rounded(amount), most=rounded(most))
        for one, doubt in to_blame(readings, own, implausible_steps):
            yield fresh[run_id][one.at].fault(doubt.code, doubt.column, doubt.found, **doubt.facts)


def _readings(projection: Projection, run_ids: Collection[int]) -> Mapping[int, list[Reading]]:
    columns = "at cut collected_ml scale reading_e2 temperature_mc instrument_id"
    rows = projection.rows(t.run_readings, columns, "run_id", run_ids)
    known, readings = read_instruments(projection.session), defaultdict[int, list[Reading]](list)
    for row in sorted(rows, key=lambda row: row["at"]):
        readings[row["run_id"]].append(known.corrected(row))
    return readings


def _run_against(
    charged_ml: int | None,
) -> Callable[[Sequence[Reading]], tuple[FaultCode, object, object] | None]:
    def wrong(readings: Sequence[Reading]) -> tuple[FaultCode, object, object] | None:
        try:
            given_l = sum(cut.pure_alcohol_l for cut in making.cuts(readings).values())
        except FigureError as error:
            return FaultCode.NOT_RISING, error.value, None
        if charged_ml is None or given_l <= charged_ml / 1000 * WASH_TOLERANCE:
            return None
        return FaultCode.MORE_THAN_WASH, given_l, charged_ml / 1000

    return wrong


def product_faults(session: Session, site: Site, records: Iterable[Record]) -> list[RecordFault]:
    """Return what speaks against lots of what is neither a product, nor declared, nor bottled before.

    Only a house that lists products has any to choose from.
    """
    lots = [record for record in records if record.kind is LOTS] if site.products else []
    known = known_products(session, site) if lots else []
    allowed = ", ".join(known)
    return [
        record.fault(FaultCode.UNLISTED_PRODUCT, PRODUCT, allowed=allowed)
        for record in lots
        if record.columns[PRODUCT] not in known
    ]


def codes_alike(session: Session, records: Iterable[Record]) -> list[RecordFault]:
    """Return a fault for each new code that differs from a recorded one in case alone."""
    faults = []
    for record in records:
        if record.kind.batch:
            b = t.batches.c
            alike = func.lower(b.code) == record.code.lower(), b.code != record.code
            if session.scalar(select(b.id).where(b.kind == record.kind.batch, *alike)) is not None:
                faults.append(record.fault(FaultCode.RECORDED_ALREADY, "code"))
    return faults
