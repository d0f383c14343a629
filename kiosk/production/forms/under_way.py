"""What is under way in the house for the page of the records, and who wrote last at each step.

The form that is next: a still reading while a still runs, else a wash reading while a wash stands.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import ScalarSelect, func, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.errors import FigureError
from kiosk.figures.making import CUTS, Reading, next_abv_percent
from kiosk.production.forms.corrections import LatestRecord
from kiosk.production.forms.definitions import Step
from kiosk.production.records.fields import Values
from kiosk.production.records.forms import STILL_READING, WASH_READING, Form
from kiosk.production.runs.account import read_runs
from kiosk.production.runs.instruments import read_instruments
from kiosk.site.settings import Site
from kiosk.store.tables import production as t

REGAUGED = {"dip": "volume", "weight": "weight"}
"""The ending of the form that regauges a cask, by how it is measured."""
SHOWN = 5
"""How many of the last readings a form shows."""


class TankWork(NamedTuple):
    """A tank: the code of the wash that stands in it ("": none), its day and how full the tank is.

    `gravity` or `brix` is what was read last, None where that was not read.
    """

    code: str
    wash: str
    day: int
    full: float | None
    gravity: float | None
    brix: float | None


class RunWork(NamedTuple):
    """A run under way: its id and code, the still, its kind, and its last reading corrected to 20 °C."""

    run_id: int
    code: str
    still: str
    kind: str
    reading: Reading | None

    @property
    def cuts(self) -> Sequence[str]:
        """The cuts of a run of this kind, in their order."""
        return CUTS[1:] if self.kind == "spirit" else CUTS[:1]


class Recent(NamedTuple):
    """The last readings of a run, oldest first, and the % vol between which the next should fall."""

    run: str
    readings: Sequence[Reading]
    expected: tuple[float, float] | None


class Work(NamedTuple):
    """What is under way: every tank, the runs of the stills, and how many casks are filled."""

    tanks: Sequence[TankWork]
    runs: Sequence[RunWork]
    casks_filled: int

    @property
    def next_form(self) -> str:
        """The name of the form that is next, "" where nothing is under way."""
        if self.runs:
            return STILL_READING.name
        return WASH_READING.name if any(tank.wash for tank in self.tanks) else ""


def read_work(session: Session, site: Site, now: datetime) -> Work:
    """Return what is under way at `now`, in four queries."""
    filled = select(func.count()).select_from(t.fills).where(t.fills.c.emptied_at.is_(None))
    return Work(_tanks(session, site, now), _runs(session, now), session.scalar(filled) or 0)


def recent_readings(session: Session, form: Form, now: datetime) -> Recent | None:
    """Return the last readings of the run that is read, for the form of still readings; None for another."""
    running = _runs(session, now) if form.name == STILL_READING.name else []
    if not running:
        return None
    try:
        read = read_runs(session, [running[0].run_id], now).get(running[0].run_id, ())
    except FigureError:  # a reading that makes no strength
        read = ()
    readings = [reading for _, reading in read]
    return Recent(running[0].code, readings[-SHOWN:], next_abv_percent(readings, now) if readings else None)


def loads_of_day(latest: Sequence[LatestRecord], site: Site, now: datetime) -> list[Values]:
    """Return the loads milled this service day among the newest, oldest first."""
    today = site.service_day(now)
    return [one.values for one in reversed(latest) if site.service_day(one.values["milled_at"]) == today]


def last_entry(step: Step, latest: Mapping[str, Sequence[LatestRecord]]) -> tuple[str, LatestRecord] | None:
    """Return the record that was written last at a step, after its table; None where none was."""
    newest = [(table, latest[table][0]) for table in step.tables if latest[table]]
    return max(newest, key=lambda one: one[1].at, default=None)


def last_on_casks(latest: Mapping[str, Sequence[LatestRecord]]) -> dict[str, LatestRecord]:
    """Return the newest record of each form for casks, by the form's name, of those written lately."""
    named = [("cask-fill", one) for one in latest["fills"]]
    named += [(f"regauge-{REGAUGED.get(one.values['how'], '')}", one) for one in latest["gauges"]]
    named += [(str(one.values["kind"]), one) for one in latest["cask_events"]]
    newest: dict[str, LatestRecord] = {}
    for name, record in named:
        newest.setdefault(name, record)
    return newest


def _tanks(session: Session, site: Site, now: datetime) -> list[TankWork]:
    v, w = t.vessels.c, t.washes.c
    standing = (w.vessel_id == v.id) & (w.set_at <= now) & or_(w.ended_at.is_(None), w.ended_at > now)
    rows = session.execute(
        select(v.code, t.batches.c.code.label("wash"), w.set_at, w.volume_ml, v.capacity_ml)
        .add_columns(_last("gravity", now).label("gravity"), _last("brix", now).label("brix"))
        .outerjoin_from(t.vessels, t.washes, standing)
        .outerjoin(t.batches, t.batches.c.id == w.id)
        .where(v.kind == "tank")
        .order_by(v.code, w.set_at)
    )
    today = site.service_day(now)
    tanks = {
        row.code: TankWork(
            row.code,
            row.wash or "",
            (today - site.service_day(row.set_at)).days + 1 if row.wash else 0,
            row.volume_ml / row.capacity_ml if row.wash and row.capacity_ml else None,
            None if row.gravity is None else row.gravity / 10_000,
            None if row.brix is None else row.brix / 10_000,
        )
        for row in rows
    }
    return list(tanks.values())


def _last(kind: str, now: datetime) -> ScalarSelect[int]:
    r = t.wash_readings.c
    of_wash = select(r.value_e4).where(r.wash_id == t.washes.c.id, r.kind == kind, r.at <= now)
    return of_wash.order_by(r.at.desc()).limit(1).correlate(t.washes).scalar_subquery()


def _runs(session: Session, now: datetime) -> list[RunWork]:
    """Return the runs under way, the one read last first."""
    c, r = t.runs.c, t.run_readings
    last = select(r.c.id).where(r.c.run_id == c.id, r.c.at <= now).order_by(r.c.at.desc()).limit(1)
    rows = session.execute(
        select(c.id.label("of_run"), t.batches.c.code, t.vessels.c.code.label("still"), c.kind, r)
        .join_from(t.runs, t.batches, t.batches.c.id == c.id)
        .join(t.vessels, t.vessels.c.id == c.vessel_id)
        .outerjoin(r, r.c.id == last.correlate(t.runs).scalar_subquery())
        .where(c.started_at <= now, or_(c.ended_at.is_(None), c.ended_at > now))
        .order_by(r.c.at.desc(), c.started_at.desc())
    ).mappings()
    known = read_instruments(session)
    runs = []
    for row in rows:
        try:
            reading = known.corrected(row) if row["reading_e2"] is not None else None
        except FigureError:  # a reading that makes no strength: the run is under way all the same
            reading = None
        runs.append(RunWork(row["of_run"], row["code"], row["still"], row["kind"], reading))
    return runs
