"""The balance of a still run: its charge, its corrected readings, each receiver's gauge against them."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, ScalarSelect, Select, select
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.figures.making.cuts import Cut, Reading, cuts
from kiosk.figures.making.recovery import (
    FEINTS,
    TO_BE_FEINTS,
    Difference,
    Receipt,
    Receiver,
    Recovery,
    against_gauges,
    recovery,
)
from kiosk.production.runs.instruments import read_instruments
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables import production as t
from kiosk.store.tables.production import run_readings


def read_runs(
    session: Session, run_ids: Collection[int] | Select[int], until: datetime | None = None
) -> Mapping[int, Sequence[tuple[int, Reading]]]:
    """Return by run its readings in the order of time, each with its id, corrected to 20 °C.

    Raises FigureError for a reading that makes no strength.
    """
    known, r = read_instruments(session), run_readings.c
    query = select(run_readings).where(r.run_id.in_(run_ids)).order_by(r.at)
    readings: dict[int, list[tuple[int, Reading]]] = defaultdict(list)
    for row in session.execute(query if until is None else query.where(r.at <= until)).mappings():
        readings[row["run_id"]].append((row["id"], known.corrected(row)))
    return readings


NEWEST = 30


@dataclass(frozen=True, slots=True)
class Charged:
    """A receipt of the charge: litres at 20 °C where they were measured, and pure alcohol."""

    kind: str
    code: str
    source: str
    volume_l: float | None
    alcohol_l: float


@dataclass(frozen=True, slots=True)
class Account:
    """A run with all that is recorded of it; `recovery` is None where a part is missing.

    `cuts` is what the readings add up to, `differences` each gauge less its readings.
    """

    row: Row[*tuple[Any, ...]]
    readings: Sequence[Reading]
    charge: Sequence[Charged]
    receivers: Sequence[Row[*tuple[Any, ...]]]
    cuts: Mapping[str, Cut]
    differences: Mapping[str, Difference]
    recovery: Recovery | None


def runs_newest(session: Session, now: datetime) -> Sequence[Row[*tuple[Any, ...]]]:
    """Return the runs begun last, newest first: code, still, kind and times."""
    r = t.runs.c
    return session.execute(
        _runs().where(r.started_at <= now).order_by(r.started_at.desc()).limit(NEWEST)
    ).all()


def read_account(session: Session, run: int | ScalarSelect[int], now: datetime) -> Account:
    """Return the account of a run, by its id or a query for it, in a fixed number of queries.

    Raises NoSuchRow.
    """
    row = session.execute(_runs().where(t.runs.c.id == run)).one_or_none()
    if row is None:
        raise NoSuchRow("runs", run)
    run_id = row.id
    readings = [reading for _id, reading in read_runs(session, [run_id], now).get(run_id, ())]
    charge = read_charge(session, run_id)
    receivers = session.execute(_receivers(run_id)).all()
    gauged = [receiver_of(one) for one in receivers if one.alcohol_ml is not None]
    held, differences = _of_readings(readings, gauged)
    whole = all_gauged(readings, receivers)
    return Account(row, readings, charge, receivers, held, differences, _recovery(charge, gauged, whole))


def read_charge(session: Session, run_id: int) -> list[Charged]:
    """Return every receipt that was charged into the still, in the order of time."""
    d, b, into = t.draws.c, t.batches.c, t.receivers.c
    drawn = session.execute(
        select(b.kind, b.code, into.cut, d.volume_ml, d.amount)
        .join_from(t.draws, t.batches, b.id == d.from_id)
        .outerjoin(t.receivers, into.id == d.from_id)
        .where(d.to_id == run_id)
        .order_by(d.at, d.id)
    )
    return [
        Charged(kind, code, source_of(kind, cut), None if ml is None else ml / 1000, amount / 1000)
        for kind, code, cut, ml, amount in drawn
    ]


def source_of(kind: str, cut: str | None) -> str:
    """Return the source of a receipt: heads and tails of earlier runs are feints."""
    if cut is None:
        return kind
    return FEINTS if cut in TO_BE_FEINTS else cut


def receiver_of(row: Row[*tuple[Any, ...]]) -> Receiver:
    """Return a recorded receiver that was gauged as a `Receiver`."""
    abv_percent = 100 * row.alcohol_ml / row.volume20_ml if row.volume20_ml else 0.0
    return Receiver(row.cut, row.volume20_ml / 1000, abv_percent, row.fate or "")


def all_gauged(readings: Sequence[Reading], received: Sequence[Row[*tuple[Any, ...]]]) -> bool:
    """Return whether every receiver is gauged and every cut that ran is in one; else recovery is too low."""
    if not received or any(one.alcohol_ml is None for one in received):
        return False
    return {one.cut for one in readings} <= {one.cut for one in received}


def _runs() -> Select[Any]:
    r = t.runs.c
    columns = (r.id, t.batches.c.code, r.kind, r.started_at, r.ended_at, t.vessels.c.code.label("still"))
    return (
        select(*columns)
        .join_from(t.runs, t.batches, t.batches.c.id == r.id)
        .join(t.vessels, t.vessels.c.id == r.vessel_id)
    )


def _receivers(run_id: int) -> Select[Any]:
    c = t.receivers.c
    return (
        select(t.batches.c.code, c.id, c.cut, c.gauged_at, c.volume20_ml, c.alcohol_ml, c.fate)
        .join(t.batches, t.batches.c.id == c.id)
        .where(c.run_id == run_id)
        .order_by(c.id)
    )


def _of_readings(
    readings: Sequence[Reading], gauged: Sequence[Receiver]
) -> tuple[Mapping[str, Cut], Mapping[str, Difference]]:
    try:
        return cuts(readings), against_gauges(readings, gauged)
    except FigureError:  # no reading yet, or volumes that fall: nothing adds up
        return {}, {}


def _recovery(charge: Sequence[Charged], gauged: Sequence[Receiver], whole: bool) -> Recovery | None:
    """Return the recovery of the charge, once every receiver is gauged (`whole`)."""
    if not whole:
        return None
    try:
        # As pure alcohol: a recovery asks for nothing else, and not every draw tells its volume.
        return recovery([Receipt(one.source, one.alcohol_l, 100.0) for one in charge], gauged)
    except FigureError:  # a charge without alcohol
        return None
