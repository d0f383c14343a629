"""What can hardly be true of what an import added or changed: found for all of it at once, held row by row.

Asked after the records were written, so that old and new stand side by side; a few
queries, whatever the number of rows. Where one row alone is to blame, that row is held
and its neighbours pass.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import pairwise
from typing import TypeVar

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from kiosk.figures import making
from kiosk.figures.casks import Fill, Gauge, How, change, gauged
from kiosk.figures.casks.gauging import Change, Verdict
from kiosk.figures.errors import FigureError
from kiosk.figures.making import Reading
from kiosk.production.importing.book import Book, fault_at
from kiosk.production.importing.checking import DRAWS, GAUGES
from kiosk.production.importing.faults import RecordFault
from kiosk.production.importing.records import Record
from kiosk.production.lineage.chain import ALCOHOL_ML, Chain, Edge
from kiosk.production.lineage.fills import read_fills
from kiosk.production.runs.account import read_runs
from kiosk.store.tables import production as t
from kiosk.words.catalogs import N_

OVER = N_(
    "{file}, row {row}, {column}: {found} are drawn out of {batch}, which held {held}. "
    "Check both measurements."
)
OVER_ESTIMATE = N_(
    "{file}, row {row}, {column}: {found} are drawn out of {batch}, which by its own readings held {held}. "
    "Check both measurements."
)
MORE_BOTTLES = N_(
    "{file}, row {row}, {column}: the bottles hold {found} of pure alcohol, but {held} were drawn into "
    "the lot. Check bottles, strength and draws."
)
OVERFULL = N_("{file}, row {row}, {column}: {found} are more than the cask holds, {held}. Check the gauge.")
GAIN = N_(
    "The cask would have gained {found} L of pure alcohol since its gauge before or until the one after; "
    "two honest gauges differ by {most} L at most. Check cask, volume and strength."
)
MORE_THAN_WASH = N_(
    "The run would have given {found} L of pure alcohol out of a charge that held {most} L. "
    "Check volume, strength and charge."
)
NOT_RISING = N_("{found} does not fit the readings before and after it. Check the volume collected.")

# How far two honest measurements of one quantity may lie apart (common practice).
GAUGE_TOLERANCE = 1.02
WASH_TOLERANCE = 1.08  # alcohol worked out from two gravities

GAUGED = frozenset({"receiver", "received", "blend"})
"""Batches that are measured themselves, so that a change of theirs can make too little of what was drawn."""

T = TypeVar("T")


def amount_doubts(
    session: Session, chain: Chain, book: Book, lot_ids: Collection[int] | None = None
) -> Iterator[RecordFault]:
    """Find draws over what there was, and bottles over what was drawn into their lot.

    All lots are looked at, or those named.
    """
    yield from _over(chain, book)
    yield from _bottles(session, chain, book, lot_ids)


def cask_doubts(session: Session, book: Book, import_id: int) -> Iterator[RecordFault]:
    """Find gauges fuller than their cask, and gauges and events that would have made alcohol."""
    yield from _overfull(session, book, import_id)
    g, e = t.gauges.c, t.cask_events.c
    touched = select(g.fill_id).where(g.import_id == import_id)
    both = touched.union(select(e.fill_id).where(e.import_id == import_id)).scalar_subquery()
    fresh_gauges = {_place(one): one for one in book.fresh if one.kind.table is t.gauges}
    fresh_events = [one for one in book.fresh if one.kind.table is t.cask_events]
    fills = {fill.code: fill for fill in read_fills(session, both).values()}
    for fill in fills.values():
        yield from _gains(fill, fresh_gauges)
    for record in fresh_events:
        step = taken_step(fills[_place(record)[0]], record)
        if step is not None and step.verdict is Verdict.GAIN:
            yield fault_at(record, "volume_l", step.gain_l, GAIN, most=step.allowed_l)


def run_doubts(session: Session, book: Book, import_id: int) -> Iterator[RecordFault]:
    """Find readings of a still that give more than its charge, or go back in volume."""
    r, d = t.run_readings.c, t.draws.c
    touched: Select[int] = select(r.run_id).where(r.import_id == import_id).distinct()
    summed = select(d.to_id, func.sum(d.amount)).where(d.to_id.in_(touched)).group_by(d.to_id)
    charged: dict[int, int] = dict(session.execute(summed).all())
    codes = dict(
        session.execute(select(t.batches.c.id, t.batches.c.code).where(t.batches.c.id.in_(touched))).all()
    )
    fresh = {_place(one): one for one in book.fresh if one.kind.table is t.run_readings}
    for run_id, found in read_runs(session, touched).items():
        readings = [reading for _id, reading in found]
        wrong = _run_against(charged.get(run_id))
        said = wrong(readings)
        if said:
            own = [one for one in readings if (codes[run_id], one.at) in fresh]
            for one in to_blame(readings, own, wrong):
                message, amount, most = said
                yield fault_at(fresh[codes[run_id], one.at], "collected_l", amount, message, most=most)


def to_blame(every: Sequence[T], own: Sequence[T], wrong: Callable[[Sequence[T]], object]) -> list[T]:
    """Return the one of our `own` without which nothing is wrong, the last if several; else all of `own`."""
    for one in reversed(own):
        if not wrong([other for other in every if other is not one]):
            return [one]
    return list(own)


def taken_step(fill: Fill, record: Record) -> Change | None:
    """Return what an event would have changed: more cannot come out than its gauge before told."""
    at, volume_ml, alcohol_ml = (record.values[name] for name in ("at", "volume20_ml", "alcohol_ml"))
    before = fill.gauges_until(at)
    if not before or alcohol_ml is None:
        return None
    earlier = tuple(one for one in fill.events if one.at < at)
    taken = gauged(at, volume_ml / 1000, alcohol_ml / 1000, How.EMPTIED)
    return change(Fill("", "", fill.filled_at, (), earlier), before[-1], taken)


def _place(record: Record) -> tuple[str, object]:
    name = "run_id" if record.kind.table is t.run_readings else "fill_id"
    return record.values[name].code, record.values["at"]


def _gains(fill: Fill, fresh: dict[tuple[str, object], Record]) -> Iterator[RecordFault]:
    def wrong(gauges: Sequence[Gauge]) -> Change | None:
        steps = (change(fill, first, second) for first, second in pairwise(gauges))
        return next((step for step in steps if step.verdict is Verdict.GAIN), None)

    step = wrong(fill.gauges)
    if step is not None:
        own = [one for one in fill.gauges if (fill.code, one.at) in fresh]
        for one in to_blame(fill.gauges, own, wrong):
            yield fault_at(fresh[fill.code, one.at], "reading", step.gain_l, GAIN, most=step.allowed_l)


def _run_against(
    charged_ml: int | None,
) -> Callable[[Sequence[Reading]], tuple[str, object, object] | None]:
    def wrong(readings: Sequence[Reading]) -> tuple[str, object, object] | None:
        try:
            given_l = sum(cut.pure_alcohol_l for cut in making.cuts(readings).values())
        except FigureError as error:
            return NOT_RISING, error.value, error.allowed
        if charged_ml is None or given_l <= charged_ml / 1000 * WASH_TOLERANCE:
            return None
        return MORE_THAN_WASH, given_l, charged_ml / 1000

    return wrong


def _overfull(session: Session, book: Book, import_id: int) -> Iterator[RecordFault]:
    g, c = t.gauges.c, t.casks.c
    asked = (
        select(g.source_key, g.volume20_ml, c.capacity_ml)
        .join(t.fills, t.fills.c.id == g.fill_id)
        .join(t.casks, c.id == t.fills.c.cask_id)
        .where(g.import_id == import_id, g.volume20_ml > c.capacity_ml * GAUGE_TOLERANCE)
    )
    for key, volume20_ml, capacity_ml in session.execute(asked):
        if record := book.find_fresh(GAUGES, key):
            yield fault_at(record, "volume_l", _said(volume20_ml), OVERFULL, held=_said(capacity_ml))


def _over(chain: Chain, book: Book) -> Iterator[RecordFault]:
    out: dict[tuple[int, str], list[Edge]] = defaultdict(list)
    by_gravities = _by_gravities(chain)
    for edge in chain.edges:
        if (edge.from_id, edge.measure) in chain.holds:
            out[edge.from_id, edge.measure].append(edge)
    for place, edges in out.items():
        kind, code = chain.names[place[0]]
        most = chain.holds[place] * (WASH_TOLERANCE if place[0] in by_gravities else GAUGE_TOLERANCE)
        if sum(edge.amount for edge in edges) > most:
            said = {"batch": code, "held": _said(chain.holds[place], place[1])}
            blamed = list(_last_over(edges, most, book))
            for record, total in blamed:
                column = "alcohol_l" if place[1] == ALCOHOL_ML else "sugar_kg"
                message = OVER_ESTIMATE if kind in ("wash", "run") else OVER
                yield fault_at(record, column, _said(total, place[1]), message, **said)
            gauge = book.naming(kind, code) if kind in GAUGED and not blamed else None
            if gauge and gauge.kind.batch == kind:
                total = sum(edge.amount for edge in edges)
                yield fault_at(gauge, "volume_l", _said(total, place[1]), OVER, **said)


def _by_gravities(chain: Chain) -> frozenset[int]:
    """Return the washes, and the runs charged with them: what they hold is worked out from gravities."""
    washes = {one for one, (kind, _code) in chain.names.items() if kind == "wash"}
    return frozenset({*washes, *(edge.to_id for edge in chain.edges if edge.from_id in washes)})


def _last_over(edges: Sequence[Edge], most: float, book: Book) -> Iterator[tuple[Record, float]]:
    """Yield the last draws of this import until what is left is no more than there was."""
    total = float(sum(edge.amount for edge in edges))
    for edge in reversed(edges):
        record = book.find_fresh(DRAWS, edge.source_key)
        if record and total > most:
            yield record, total
            total -= edge.amount


def _bottles(
    session: Session, chain: Chain, book: Book, lot_ids: Collection[int] | None
) -> Iterator[RecordFault]:
    drawn: dict[int, int] = defaultdict(int)
    for edge in chain.edges:
        drawn[edge.to_id] += edge.amount
    c = t.lots.c
    lots = select(c.id, c.bottles, c.bottle_ml, c.abv_e2)
    asked = lots if lot_ids is None else lots.where(c.id.in_(lot_ids))
    for lot_id, bottles, bottle_ml, abv_e2 in session.execute(asked):
        alcohol_ml = bottles * bottle_ml * abv_e2 / 10_000
        if alcohol_ml > drawn[lot_id] * GAUGE_TOLERANCE:
            record = book.naming(*chain.names[lot_id])
            if record:
                column = "bottles" if record.kind.table is t.lots else "alcohol_l"
                yield fault_at(record, column, _said(alcohol_ml), MORE_BOTTLES, held=_said(drawn[lot_id]))


def _said(amount: float, measure: str = ALCOHOL_ML) -> str:
    return f"{amount / 1000:.1f} {'L' if measure.endswith('ml') else 'kg'}"
