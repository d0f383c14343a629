"""The figures of the stills: the run at the parrot now, today's hearts, the last spirit run's balance."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session

from kiosk.figures import making, strength
from kiosk.figures.errors import FigureError
from kiosk.figures.figure import Basis, Figure, Figures, Provider, Spec, Unit
from kiosk.production.live.missing import (
    NO_READING,
    NO_RECORD,
    NONE_YET,
    or_unknown,
    resting,
    seconds,
    unknown,
)
from kiosk.production.runs.account import all_gauged, read_charge, read_runs, receiver_of
from kiosk.site.settings import Site
from kiosk.store.tables import production as t
from kiosk.store.tables.production import run_readings, runs

# A still is read about every half hour; an hour without a reading is no longer 'now'.
_NOW_S = seconds(hours=1)
# What has run off stays in the receiver: it is worth saying until the afternoon's end.
_TODAY_S = seconds(hours=4)

RUN_ABV = Spec("run_abv_now", Unit.ABV_PERCENT, digits=1, stale_after_s=_NOW_S)
RUN_PROOF = Spec("run_proof_now", Unit.PROOF, digits=1, stale_after_s=_NOW_S)
RUN_CUT = Spec("run_cut_now", Unit.CUT, digits=0, stale_after_s=_NOW_S)
RUN_COLLECTED = Spec("run_collected_now", Unit.L, digits=0, stale_after_s=_NOW_S)
HEARTS_VOLUME = Spec("hearts_volume_today", Unit.L, digits=0, stale_after_s=_TODAY_S, daily=True)
HEARTS_ABV = Spec("hearts_abv_today", Unit.ABV_PERCENT, digits=1, stale_after_s=_TODAY_S, daily=True)
HEARTS_ALCOHOL = Spec("hearts_alcohol_today", Unit.LPA, digits=0, stale_after_s=_TODAY_S, daily=True)
_NOW = (RUN_ABV, RUN_PROOF, RUN_CUT, RUN_COLLECTED)
_HEARTS = (HEARTS_VOLUME, HEARTS_ABV, HEARTS_ALCOHOL)


Run = Row[*tuple[Any, ...]]
Runs = Sequence[Run]
Readings = Mapping[int, Sequence[tuple[int, making.Reading]]]
"""By run its readings in the order of time, each with its id."""


def still_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return the last reading of the run under way and today's hearts, or when each was last."""
    day_begins, _ = site.day_bounds(site.service_day(now))
    maybe_today = _runs(session, day_begins, now)
    readings = read_runs(session, [run.id for run in maybe_today], now)
    today = [run for run in maybe_today if _last_change(run, readings) >= day_begins]
    last_run_at, last_hearts_at = _last(session, now)
    hearts = _hearts([run for run in today if run.kind == "spirit"], readings, last_hearts_at)
    return {**_now(today, readings, last_run_at, now), **hearts}


def _all(specs: Iterable[Spec], figure: Figure) -> Figures:
    return {(spec.name, ""): figure for spec in specs}


def _runs(session: Session, day_begins: datetime, now: datetime) -> Runs:
    c = runs.c
    maybe_today = or_(c.ended_at.is_(None), c.ended_at >= day_begins)
    query = select(c.id, c.kind, c.started_at, c.ended_at).where(maybe_today, c.started_at <= now)
    return session.execute(query).all()


def _last_change(run: Run, readings: Readings) -> datetime:
    """Return when anything of a run was last recorded to have happened."""
    read = [reading.at for _, reading in readings.get(run.id, ())]
    last: datetime = max(filter(None, (run.started_at, run.ended_at, *read)))
    return last


def _last(session: Session, now: datetime) -> tuple[datetime | None, datetime | None]:
    """Return when a still last ran, and when hearts last ran off."""
    c, r = runs.c, run_readings.c
    ran = session.scalar(select(func.max(func.coalesce(c.ended_at, c.started_at))).where(c.started_at <= now))
    read = session.scalar(select(func.max(r.at)).where(r.at <= now))
    hearts = session.scalar(select(func.max(r.at)).where(r.cut == making.HEARTS, r.at <= now))
    return max(filter(None, (ran, read)), default=None), hearts


def _now(today: Runs, readings: Readings, last_run_at: datetime | None, now: datetime) -> Figures:
    under_way = [run for run in today if run.ended_at is None or run.ended_at > now]
    if not under_way:
        return _all(_NOW, resting(last_run_at))
    # Where both stills run, the spirit still is the one that people stand at.
    run = max(under_way, key=lambda one: (one.kind == "spirit", one.id in readings, one.started_at))
    if run.id not in readings:
        return _all(_NOW, unknown(NO_READING))
    row_id, last = readings[run.id][-1]
    rests_on = (f"run:{run.id}", f"run_reading:{row_id}")
    values = {
        RUN_ABV: last.abv_percent,
        RUN_PROOF: strength.proof_of_abv(last.abv_percent),
        RUN_CUT: making.CUTS.index(last.cut),
        RUN_COLLECTED: last.collected_l,
    }
    basis = Basis.ESTIMATED if last.as_read else Basis.MEASURED
    return {
        (spec.name, ""): Figure(value, last.at, basis, rests_on=rests_on) for spec, value in values.items()
    }


def _hearts(today: Runs, readings: Readings, last_hearts_at: datetime | None) -> Figures:
    if not today:
        return _all(_HEARTS, resting(last_hearts_at))
    read = {run.id: [reading for _, reading in readings[run.id]] for run in today if run.id in readings}
    if not read:
        return _all(_HEARTS, unknown(NO_READING))
    try:
        cuts = [cut for each in read.values() if (cut := making.cuts(each).get(making.HEARTS))]
    except FigureError as error:
        return _all(_HEARTS, unknown(error.reason))
    # Both are zero where only other cuts ran.
    volume_l, alcohol_l = sum(cut.volume_l for cut in cuts), sum(cut.pure_alcohol_l for cut in cuts)
    as_of = max(each[-1].at for each in read.values())
    rests_on = tuple(f"run:{run_id}" for run_id in read)
    values = {HEARTS_VOLUME: volume_l, HEARTS_ALCOHOL: alcohol_l}
    if volume_l:
        values[HEARTS_ABV] = 100 * alcohol_l / volume_l
    as_read = any(reading.as_read for each in read.values() for reading in each)
    basis = Basis.ESTIMATED if as_read else Basis.MEASURED
    measured = {
        (spec.name, ""): Figure(value, as_of, basis, rests_on=rests_on) for spec, value in values.items()
    }
    return {(HEARTS_ABV.name, ""): unknown(NONE_YET), **measured}


STILL_PROVIDER = Provider(
    (*_NOW, *_HEARTS), frozenset({"runs", "instruments"}), fresh_s=30, compute=still_figures
)


# A season's runs follow each other within days; a quarter of a year without one is a long rest.
_RECOVERY_STALE_S = seconds(days=90)

RECOVERY = Spec("recovery_last_run", Unit.SHARE, digits=1, stale_after_s=_RECOVERY_STALE_S)
GAUGE_LESS_READINGS = Spec(
    "hearts_gauge_less_readings", Unit.SHARE, digits=1, stale_after_s=_RECOVERY_STALE_S, public=False
)

TOO_FEW = "too_few"


def recovery_figures(session: Session, site: Site, now: datetime, of: str) -> Figures:
    """Return recovery of the last spirit run, and how far its hearts' gauge is from their readings."""
    last = session.execute(
        select(t.runs.c.id, t.runs.c.ended_at)
        .where(t.runs.c.kind == "spirit", t.runs.c.ended_at <= now)
        .order_by(t.runs.c.ended_at.desc(), t.runs.c.id.desc())
        .limit(1)
    ).one_or_none()
    if last is None:
        return {(spec.name, ""): unknown(NO_RECORD) for spec in RECOVERY_PROVIDER.specs}
    received = session.execute(select(t.receivers).where(t.receivers.c.run_id == last.id)).all()
    return {
        (RECOVERY.name, ""): _recovery(session, last, received),
        (GAUGE_LESS_READINGS.name, ""): _difference(session, last, received),
    }


@or_unknown
def _recovery(session: Session, run: Run, received: Runs) -> Figure:
    if not all_gauged(_readings(session, run.id), received):
        return unknown(NO_READING)
    # As pure alcohol: a recovery needs nothing else, and not every draw records its volume.
    charge = [making.Receipt(one.source, one.alcohol_l, 100.0) for one in read_charge(session, run.id)]
    balance = making.recovery(charge, map(receiver_of, received))
    if not balance.is_credible:
        return unknown(TOO_FEW)  # a part of the charge or a receiver is not on record, or measured wrong
    return Figure(balance.share, run.ended_at, Basis.MEASURED, rests_on=(f"run:{run.id}",))


@or_unknown
def _difference(session: Session, run: Run, received: Runs) -> Figure:
    hearts = [row for row in received if row.cut == making.HEARTS and row.alcohol_ml]
    readings = _readings(session, run.id)
    if not hearts or not readings:
        return unknown(NO_READING)
    differences = making.against_gauges(readings, map(receiver_of, hearts))
    if making.HEARTS not in differences:
        return unknown(NO_READING)
    rests_on = (f"run:{run.id}", *(f"receiver:{row.id}" for row in hearts))
    share = abs(differences[making.HEARTS].share)
    return Figure(share, run.ended_at, Basis.MEASURED, rests_on=rests_on)


def _readings(session: Session, run_id: int) -> list[making.Reading]:
    return [reading for _, reading in read_runs(session, [run_id]).get(run_id, ())]


RECOVERY_PROVIDER = Provider(
    (RECOVERY, GAUGE_LESS_READINGS),
    frozenset({"runs", "draws", "instruments"}),
    fresh_s=600,
    compute=recovery_figures,
)
