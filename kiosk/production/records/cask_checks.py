"""What speaks against fills, gauges and events of casks, beside the other records of the same casks."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from itertools import islice, pairwise

from sqlalchemy import select

from kiosk.figures.casks import Event, EventKind, Fill, Gauge, How, change, fit_losses, gauged
from kiosk.figures.casks.gauging import Change, Verdict
from kiosk.figures.casks.loss_rates import Rates
from kiosk.production.lineage.fills import GAUGE_COLUMNS, gauge_of, litres, read_fills
from kiosk.production.records.building import Record
from kiosk.production.records.faults import FaultCode, RecordFault, large, rounded
from kiosk.production.records.plausibility import (
    GAUGE_TOLERANCE,
    MOST_LOSS,
    USUAL_LOSS,
    Doubt,
    blamed_of,
    most_loss_l,
    to_blame,
)
from kiosk.production.records.projection import Projection
from kiosk.store.tables import production as t

MINUTE = timedelta(minutes=1)
"""Filling and emptying are written to the minute, and so is the gauge that belongs to each."""
CASKS_FITTED = 60
"""A store's loss is judged by so many of its casks: enough for a rate, few enough to read at once."""


@dataclass(frozen=True, slots=True)
class _State:
    """A fill as it will stand, with the records of it that are added or changed, by their times."""

    id: int
    fill: Fill
    emptied_at: datetime | None
    capacity_ml: int
    gauges: Mapping[datetime, Record]
    events: Sequence[Record]
    own: Record | None


def check_fills(projection: Projection) -> Iterator[RecordFault]:
    """Yield what speaks against fills, gauges and events of casks that are added or changed."""
    states = list(_states(projection))
    for state in states:
        yield from _outside(state)
        yield from _overfull(state)
        yield from _gains(state)
    yield from _losses(projection, states)


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
    rows = list(projection.rows(t.fills, "cask_id store_id filled_at emptied_at", "id", ids))
    casks = {row["cask_id"] for row in rows}
    capacity = {row["id"]: row["capacity_ml"] for row in projection.rows(t.casks, "capacity_ml", "id", casks)}
    gauged, happened, stores = _gauges(projection, ids), _events(projection, ids), projection.store_codes
    for row in rows:
        one = row["id"]
        fill = Fill("", stores[row["store_id"]], row["filled_at"], gauged[one], happened[one])
        capacity_ml = capacity[row["cask_id"]]
        yield _State(one, fill, row["emptied_at"], capacity_ml, gauges[one], events[one], own.get(one))


def _gauges(projection: Projection, ids: Collection[int]) -> Mapping[int, tuple[Gauge, ...]]:
    rows = projection.rows(t.gauges, GAUGE_COLUMNS, "fill_id", ids)
    gauges: dict[int, tuple[Gauge, ...]] = defaultdict(tuple)
    for row in sorted(rows, key=lambda row: row["at"]):
        gauges[row["fill_id"]] += (gauge_of(row),)
    return gauges


def _events(projection: Projection, ids: Collection[int]) -> Mapping[int, tuple[Event, ...]]:
    events: dict[int, tuple[Event, ...]] = defaultdict(tuple)
    for row in projection.rows(t.cask_events, "kind at volume20_ml alcohol_ml store_id", "fill_id", ids):
        volume, alcohol = litres(row["volume20_ml"]), litres(row["alcohol_ml"])
        store = projection.store_codes.get(row["store_id"], "")
        events[row["fill_id"]] += (Event(EventKind(row["kind"]), row["at"], volume, alcohol, store),)
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
            found, held = large(gauge.volume20_l * 1000), large(state.capacity_ml)
            yield record.fault(FaultCode.OVERFULL, "volume_l", found, held=held)


def _gains(state: _State) -> Iterator[RecordFault]:
    """Find gauges and events by which the cask would have gained alcohol."""
    known = set(pairwise(one for one in state.fill.gauges if one.at not in state.gauges))

    def gain(gauges: Sequence[Gauge]) -> Change | None:
        steps = (change(state.fill, *pair) for pair in pairwise(gauges) if pair not in known)
        return next((step for step in steps if step.verdict is Verdict.GAIN), None)

    if step := gain(state.fill.gauges):
        own = [one for one in state.fill.gauges if one.at in state.gauges]
        for one in blamed_of(state.fill.gauges, own, gain):
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


def _losses(projection: Projection, states: Sequence[_State]) -> Iterator[RecordFault]:
    """Find gauges by which a cask would have lost far more than the casks of its store do."""
    suspected = [state for state in states if _lost_much(state, {}, USUAL_LOSS)]
    if not suspected:
        return
    rates = _rates(projection, states, {state.id for state in suspected})
    for state in suspected:
        own = [one for one in state.fill.gauges if one.at in state.gauges]
        for one, doubt in to_blame(state.fill.gauges, own, partial(_steps, state.fill, rates)):
            yield state.gauges[one.at].fault(doubt.code, doubt.column, doubt.found, **doubt.facts)


def _lost_much(state: _State, rates: Rates, unrated: float) -> bool:
    steps = _steps(state.fill, rates, state.fill.gauges, unrated)
    return any(first.at in state.gauges or second.at in state.gauges for first, second, _doubt in steps)


def _steps(
    fill: Fill, rates: Rates, gauges: Sequence[Gauge], unrated: float = MOST_LOSS
) -> list[tuple[Gauge, Gauge, Doubt]]:
    """Return each two gauges between which more was lost than `rates` allow, or `unrated` a year."""
    wrong = []
    for first, second in pairwise(gauges):
        step = change(fill, first, second)
        stores = {fill.store_at(first.at), fill.store_at(second.at)}
        most_l = most_loss_l(step, [rates.get(one) for one in stores], first == fill.gauges[0], unrated)
        if step.certain and -step.gain_l > most_l:
            facts = {"most": round(most_l, 2)}
            doubt = Doubt(FaultCode.LOSES_TOO_MUCH, "reading", round(-step.gain_l, 2), facts)
            wrong.append((first, second, doubt))
    return wrong


def _rates(projection: Projection, states: Sequence[_State], but: Collection[int]) -> Rates:
    """Fit the loss rates of the stores on the casks gauged last, and on those of this import.

    The first gauge of each is left out, so that what new wood drinks is no evaporation.
    """
    f = t.fills.c
    others = f.id.not_in([one for one in but if one > 0][:CASKS_FITTED])
    newest = select(f.id).where(others).order_by(f.id.desc()).limit(CASKS_FITTED)
    known = read_fills(projection.session, newest.scalar_subquery())
    fresh = {state.id: state.fill for state in states if state.id not in but}
    fills = {**known, **dict(islice(fresh.items(), CASKS_FITTED))}.values()
    latest = max((gauge.at for fill in fills for gauge in fill.gauges), default=None)
    later = [replace(fill, gauges=fill.gauges[1:], wood="") for fill in fills]
    return fit_losses(later, latest).rates if latest else {}
