"""Figures of the tasting room."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, and_, case, exists, func, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import approvals, pour_marks, pours
from kiosk.tasting.bottles.shelf import UNDONE

SAMPLES_TODAY = Spec("samples_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)
SAMPLE_VOLUME = Spec("sample_volume_today", Unit.ML, digits=1, stale_after_s=300, daily=True)
SAMPLE_DRINKS = Spec("sample_drinks_today", Unit.STANDARD_DRINK, digits=2, stale_after_s=300, daily=True)
LOTS_OPEN = Spec("lots_open", Unit.COUNT, digits=0, stale_after_s=24 * 3600)

NONE_SERVED = "none_served"
"""No sample with alcohol has been served today."""


def _served_between(session: Session, start: datetime, end: datetime) -> Row[Any]:
    """Return what was served, after every correction: one set out counts from when its guest sat down.

    The row has the `samples`, and of those with alcohol how many there are (`strong`), their
    volume in µL and their ethanol in units of 1e-4 µL.
    """
    mark, p = pour_marks.c, pours.c
    seated = exists().where(mark.pour_key == p.key, mark.kind == "seated", mark.at >= start, mark.at < end)
    at_once = and_(p.guest_id.is_not(None), p.at >= start)
    # A bound that an index knows: nothing is set out longer than a day before it is served.
    lately = and_(p.at >= start - timedelta(days=1), p.at < end)
    sums = (
        func.count().label("samples"),
        func.count(case((p.abv_e2 > 0, 1))).label("strong"),
        func.sum(case((p.abv_e2 > 0, p.volume_ul))).label("volume_ul"),
        func.sum(p.volume_ul * p.abv_e2).label("ethanol"),
    )
    return session.execute(select(*sums).where(lately, or_(at_once, seated), ~UNDONE)).one()


def _samples(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the samples of this service day; return volume and drinks of one with alcohol on average."""
    served = _served_between(session, *site.day_bounds(site.service_day(now)))
    volume = drinks = Figure(None, None, Basis.MEASURED, missing=NONE_SERVED)
    if served.strong:
        volume = Figure(int(served.volume_ul) / served.strong / 1000, now, Basis.MEASURED)
        each = int(served.ethanol) / served.strong / site.standard_drink.ethanol
        drinks = Figure(each, now, Basis.MEASURED)
    return {
        (SAMPLES_TODAY.name, ""): Figure(served.samples, now, Basis.COUNTED),
        (SAMPLE_VOLUME.name, ""): volume,
        (SAMPLE_DRINKS.name, ""): drinks,
    }


def _lots(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the lots of which something is approved for tasting on this service day."""
    day, r = site.service_day(now), approvals.c
    in_force = and_(r.from_on <= day, or_(r.until_on.is_(None), r.until_on >= day))
    counts = select(func.count(r.batch_id.distinct())).where(in_force)
    return {(LOTS_OPEN.name, ""): Figure(session.execute(counts).scalar_one(), now, Basis.COUNTED)}


PROVIDERS = (
    # Taps touch no subject, so that nobody's pour waits for a counter; this lives five seconds.
    Provider((SAMPLES_TODAY, SAMPLE_VOLUME, SAMPLE_DRINKS), frozenset(), 5, _samples),
    Provider((LOTS_OPEN,), frozenset({"approvals"}), 600, _lots),
)
