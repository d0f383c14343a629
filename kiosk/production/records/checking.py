"""What no record shows alone: loops, draws too late, full casks filled, what is implausible beside others.

All is worked out on a `Projection`, before anything is written, in a few queries
whatever the number of records. Where one record alone is to blame, it is named and its
neighbours pass.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import Table

from kiosk.figures import making
from kiosk.figures.casks import Event, EventKind, Fill, Gauge, How, change, gauged
from kiosk.figures.casks.gauging import Change, Verdict
from kiosk.figures.errors import FigureError
from kiosk.figures.making import Reading
from kiosk.production.lineage.chain import ALCOHOL_ML, Chain, Edge
from kiosk.production.lineage.fills import litres
from kiosk.production.records.building import Record
from kiosk.production.records.faults import FaultCode, RecordFault, rounded
from kiosk.production.records.projection import GAUGED, Projection
from kiosk.production.runs.instruments import read_instruments
from kiosk.store.tables import production as t

GAUGE_TOLERANCE = 1.02
"""How far two honest measurements of one quantity may lie apart (common practice)."""
WASH_TOLERANCE = 1.08
"""The same where the alcohol is worked out from two gravities (common practice)."""
MINUTE = timedelta(minutes=1)
"""Filling and emptying are written to the minute, and so is the gauge that belongs to each."""
T = TypeVar("T")


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
    yield from _fills(projection)
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
        facts = {"batch": code, "held": _amount(holds, measure)}
        fault = FaultCode.OVER_ESTIMATE if kind in ("wash", "run") else FaultCode.OVER
        if total <= most:
            continue
        own = [edge for edge in edges if edge.id in drawn]
        for edge in reversed(own):
            if total > most:
                column = "alcohol_l" if measure == ALCOHOL_ML else "sugar_kg"
                yield drawn[edge.id].fault(fault, column, _amount(total, measure), **facts)
                total -= edge.amount
        if not own and kind in GAUGED and (gauge := projection.record(kind, code)):
            yield gauge.fault(FaultCode.OVER, "volume_l", _amount(total, measure), **facts)


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
            held = _amount(drawn[row["id"]])
            yield record.fault(FaultCode.MORE_BOTTLES, column, _amount(alcohol_ml), held=held)


@dataclass(frozen=True, slots=True)
class _State:
    """A fill as it will stand, with the records of it that are added or changed, by their times."""

    fill: Fill
    emptied_at: datetime | None
    capacity_ml: int
    gauges: Mapping[datetime, Record]
    events: Sequence[Record]
    own: Record | None


def _fills(projection: Projection) -> Iterator[RecordFault]:
    for state in _states(projection):
        yield from _outside(state)
        yield from _overfull(state)
        yield from _gains(state)


def _states(projection: Projection) -> Iterator[_State]:
    """Yield the fills that are added or changed, or gauged, or to which something happened."""
    gauges: dict[int, dict[datetime, Record]] = defaultdict(dict)
    events: dict[int, list[Record]] = defaultdict(list)
    for row, record in projection.fresh(t.gauges):
        gauges[row["fill_id"]][row["at"]] = record
    for row, record in projection.fresh(t.cask_events):
        events[row["fill_id"]].append(record)
    own = {row["id"]: record for row, record in projection.fresh(t.fills)}
    ids = {*gauges, *events, *own}
    if not ids:
        return
    rows = list(projection.rows(t.fills, "cask_id filled_at emptied_at", "id", ids))
    casks = {row["cask_id"] for row in rows}
    capacity = {row["id"]: row["capacity_ml"] for row in projection.rows(t.casks, "capacity_ml", "id", casks)}
    gauged, happened = _gauges(projection, ids), _events(projection, ids)
    for row in rows:
        one = row["id"]
        fill = Fill("", "", row["filled_at"], gauged[one], happened[one])
        yield _State(
            fill, row["emptied_at"], capacity[row["cask_id"]], gauges[one], events[one], own.get(one)
        )


def _gauges(projection: Projection, ids: Collection[int]) -> Mapping[int, tuple[Gauge, ...]]:
    rows = projection.rows(t.gauges, "at how volume20_ml alcohol_ml", "fill_id", ids)
    gauges: dict[int, tuple[Gauge, ...]] = defaultdict(tuple)
    for row in sorted(rows, key=lambda row: row["at"]):
        one = gauged(row["at"], row["volume20_ml"] / 1000, row["alcohol_ml"] / 1000, How(row["how"]))
        gauges[row["fill_id"]] += (one,)
    return gauges


def _events(projection: Projection, ids: Collection[int]) -> Mapping[int, tuple[Event, ...]]:
    events: dict[int, tuple[Event, ...]] = defaultdict(tuple)
    for row in projection.rows(t.cask_events, "kind at volume20_ml alcohol_ml", "fill_id", ids):
        volume, alcohol = litres(row["volume20_ml"]), litres(row["alcohol_ml"])
        events[row["fill_id"]] += (Event(EventKind(row["kind"]), row["at"], volume, alcohol),)
    for row in projection.rows(t.draws, "at volume_ml amount", "from_id", ids):
        volume, alcohol = litres(row["volume_ml"]), litres(row["amount"])
        events[row["from_id"]] += (Event(EventKind.TRANSFER, row["at"], volume, alcohol),)
    return events


def _outside(state: _State) -> Iterator[RecordFault]:
    """Find gauges and events at a time when the cask held no such fill."""
    events = [one for one in state.fill.events if one.kind is not EventKind.TRANSFER]
    gauged, last = [one.at for one in state.fill.gauges], state.emptied_at
    # An empty cask may be retired days after it was emptied.
    lasting = [*gauged, *(one.at for one in events if one.kind is not EventKind.RETIRED)]
    early = [at for at in (*gauged, *(one.at for one in events)) if at < state.fill.filled_at - MINUTE]
    late = [at for at in lasting if last is not None and at > last + MINUTE]
    own = {**{one.columns["at"]: one for one in state.events}, **state.gauges}
    for at in dict.fromkeys((*early, *late)):
        if record := own.get(at):
            yield record.fault(FaultCode.OUTSIDE_FILL, "at")
        elif state.own:
            yield state.own.fault(FaultCode.OUTSIDE_FILL, "filled_at" if at in early else "emptied_at", at)


def _overfull(state: _State) -> Iterator[RecordFault]:
    most_ml = state.capacity_ml * GAUGE_TOLERANCE
    for gauge in state.fill.gauges:
        if gauge.volume20_l * 1000 > most_ml and (record := state.gauges.get(gauge.at)):
            found, held = _amount(gauge.volume20_l * 1000), _amount(state.capacity_ml)
            yield record.fault(FaultCode.OVERFULL, "volume_l", found, held=held)


def _gains(state: _State) -> Iterator[RecordFault]:
    """Find gauges and events by which the cask would have gained alcohol."""
    known = set(pairwise(one for one in state.fill.gauges if one.at not in state.gauges))

    def gain(gauges: Sequence[Gauge]) -> Change | None:
        steps = (change(state.fill, *pair) for pair in pairwise(gauges) if pair not in known)
        return next((step for step in steps if step.verdict is Verdict.GAIN), None)

    if step := gain(state.fill.gauges):
        own = [one for one in state.fill.gauges if one.at in state.gauges]
        for one in _to_blame(state.fill.gauges, own, gain):
            yield _gain(state.gauges[one.at], "reading", step)
    for record in state.events:
        taken = _taken(state.fill, record)
        if taken is not None and taken.verdict is Verdict.GAIN:
            yield _gain(record, "volume_l", taken)


def _gain(record: Record, column: str, step: Change) -> RecordFault:
    return record.fault(FaultCode.GAIN, column, rounded(step.gain_l), most=rounded(step.allowed_l))


def _taken(fill: Fill, record: Record) -> Change | None:
    """Return what an event would have changed: no more can come out than its gauge before measured."""
    at, volume_ml, alcohol_ml = (record.columns[name] for name in ("at", "volume20_ml", "alcohol_ml"))
    before = fill.gauges_until(at)
    if not before or alcohol_ml is None:
        return None
    earlier = tuple(one for one in fill.events if one.at < at)
    after = gauged(at, volume_ml / 1000, alcohol_ml / 1000, How.EMPTIED)
    return change(Fill("", "", fill.filled_at, (), earlier), before[-1], after)


def _to_blame(every: Sequence[T], own: Sequence[T], wrong: Callable[[Sequence[T]], object]) -> list[T]:
    """Return the one of our `own` without which nothing is wrong, the last if several; else all of `own`."""
    for one in reversed(own):
        if not wrong([other for other in every if other is not one]):
            return [one]
    return list(own)


def _runs(projection: Projection) -> Iterator[RecordFault]:
    """Find readings of a still that give more than its charge, or go back in volume."""
    fresh: dict[int, dict[datetime, Record]] = defaultdict(dict)
    for row, record in projection.fresh(t.run_readings):
        fresh[row["run_id"]][row["at"]] = record
    if not fresh:
        return
    charged: dict[int, int] = defaultdict(int)
    for row in projection.rows(t.draws, "amount", "to_id", fresh):
        charged[row["to_id"]] += row["amount"]
    for run_id, readings in _readings(projection, fresh).items():
        wrong = _run_against(charged.get(run_id))
        if fault := wrong(readings):
            code, amount, most = fault
            own = [one for one in readings if one.at in fresh[run_id]]
            for one in _to_blame(readings, own, wrong):
                record = fresh[run_id][one.at]
                yield record.fault(code, "collected_l", rounded(amount), most=rounded(most))


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


def _amount(amount: float, measure: str = ALCOHOL_ML) -> str:
    return f"{amount / 1000:.1f} {'L' if measure.endswith('ml') else 'kg'}"
