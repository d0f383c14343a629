"""Figures of the tasting room."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from sqlalchemy import and_, exists, func, or_, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.site.settings import Site
from kiosk.store.tables.tasting import approvals, pour_marks, pours
from kiosk.tasting.bottles.shelf import UNDONE

SAMPLES_TODAY = Spec("samples_today", Unit.COUNT, digits=0, stale_after_s=300, daily=True)
LOTS_OPEN = Spec("lots_open", Unit.COUNT, digits=0, stale_after_s=24 * 3600)


def served_between(session: Session, start: datetime, end: datetime) -> int:
    """Count glasses served, after every correction: one set out counts from when its guest sat down."""
    mark = pour_marks.c
    seated = exists().where(
        mark.pour_key == pours.c.key, mark.kind == "seated", mark.at >= start, mark.at < end
    )
    at_once = and_(pours.c.guest_id.is_not(None), pours.c.at >= start)
    # A bound that an index knows: nothing is set out longer than a day before it is served.
    lately = and_(pours.c.at >= start - timedelta(days=1), pours.c.at < end)
    counts = select(func.count()).select_from(pours).where(lately, or_(at_once, seated), ~UNDONE)
    return session.execute(counts).scalar_one()


def _compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    start, end = site.day_bounds(site.service_day(now))
    served = served_between(session, start, end)
    return {(SAMPLES_TODAY.name, ""): Figure(served, now, Basis.COUNTED)}


def _lots(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the lots of which something is approved for tasting on this service day."""
    day, r = site.service_day(now), approvals.c
    in_force = and_(r.from_on <= day, or_(r.until_on.is_(None), r.until_on >= day))
    counts = select(func.count(r.batch_id.distinct())).where(in_force)
    return {(LOTS_OPEN.name, ""): Figure(session.execute(counts).scalar_one(), now, Basis.COUNTED)}


PROVIDERS = (
    # Taps touch no subject, so that nobody's pour waits for a counter; this lives five seconds.
    Provider((SAMPLES_TODAY,), frozenset(), 5, _compute),
    Provider((LOTS_OPEN,), frozenset({"approvals"}), 600, _lots),
)
