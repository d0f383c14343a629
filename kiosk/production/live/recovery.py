"""The account of the last spirit run that ended: what came back of its charge, gauge against readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from kiosk.figures import making
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.production.importing.doubting import GAUGE_TOLERANCE
from kiosk.production.live.saying import NO_READING, NO_RECORD, seconds, unknown
from kiosk.production.runs.account import all_gauged, read_charge, read_runs, receiver_of
from kiosk.site.settings import Site
from kiosk.store.tables import production as t

# A season's runs follow each other within days; a quarter of a year without one is a long rest.
_STALE_S = seconds(days=90)

RECOVERY = Spec("recovery_last_run", Unit.SHARE, digits=1, stale_after_s=_STALE_S)
GAUGE_LESS_READINGS = Spec(
    "hearts_gauge_less_readings", Unit.SHARE, digits=1, stale_after_s=_STALE_S, public=False
)

TOO_FEW = "too_few"

Rows = Sequence[Row[*tuple[Any, ...]]]


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return recovery of the last spirit run, and how far its hearts' gauge is from their readings."""
    last = session.execute(
        select(t.runs.c.id, t.runs.c.ended_at)
        .where(t.runs.c.kind == "spirit", t.runs.c.ended_at <= now)
        .order_by(t.runs.c.ended_at.desc(), t.runs.c.id.desc())
        .limit(1)
    ).one_or_none()
    if last is None:
        return {(spec.name, ""): unknown(NO_RECORD) for spec in PROVIDER.specs}
    received = session.execute(select(t.receivers).where(t.receivers.c.run_id == last.id)).all()
    return {
        (RECOVERY.name, ""): _recovery(session, last, received),
        (GAUGE_LESS_READINGS.name, ""): _difference(session, last, received),
    }


def _recovery(session: Session, run: Row[*tuple[Any, ...]], received: Rows) -> Figure:
    try:
        read = [one for _, one in read_runs(session, [run.id]).get(run.id, ())]
    except FigureError as error:
        return unknown(error.reason)
    if not all_gauged(read, received):
        return unknown(NO_READING)
    # As pure alcohol: a recovery asks for nothing else, and not every draw tells its volume.
    charge = [making.Receipt(one.source, one.alcohol_l, 100.0) for one in read_charge(session, run.id)]
    try:
        found = making.recovery(charge, map(receiver_of, received))
    except FigureError as error:
        return unknown(error.reason)
    if found.share > GAUGE_TOLERANCE:
        return unknown(TOO_FEW)  # a part of the charge is not on record, or was taken back
    return Figure(found.share, run.ended_at, Basis.MEASURED, rests_on=(f"run:{run.id}",))


def _difference(session: Session, run: Row[*tuple[Any, ...]], received: Rows) -> Figure:
    hearts = [row for row in received if row.cut == making.HEARTS and row.alcohol_ml]
    try:
        read = [one for _, one in read_runs(session, [run.id]).get(run.id, ())]
        if not hearts or not read:
            return unknown(NO_READING)
        differences = making.against_gauges(read, map(receiver_of, hearts))
    except FigureError as error:
        return unknown(error.reason)
    if making.HEARTS not in differences:
        return unknown(NO_READING)
    rests_on = (f"run:{run.id}", *(f"receiver:{row.id}" for row in hearts))
    share = abs(differences[making.HEARTS].share)
    return Figure(share, run.ended_at, Basis.MEASURED, rests_on=rests_on)


PROVIDER = Provider(
    (RECOVERY, GAUGE_LESS_READINGS), frozenset({"runs", "draws", "instruments"}), fresh_s=600, compute=compute
)
