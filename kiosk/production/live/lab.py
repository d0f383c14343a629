"""What was read off an instrument today: at the still, in the tanks, in the casks."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.production.live.saying import resting, seconds
from kiosk.site.settings import Site
from kiosk.store.tables.production import gauges, run_readings, wash_readings

READINGS_TODAY = Spec("readings_today", Unit.COUNT, digits=0, stale_after_s=seconds(days=1), daily=True)
_TABLES = (run_readings, wash_readings, gauges)


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return how many readings were taken in this service day, or when the last one was."""
    day_begins, _ = site.day_bounds(site.service_day(now))
    counts, last = [], []
    for table in _TABLES:
        today = func.count(case((table.c.at >= day_begins, 1)))
        n, at = session.execute(select(today, func.max(table.c.at)).where(table.c.at <= now)).one()
        counts.append(n)
        last.append(at)
    last_at = max(filter(None, last), default=None)
    read = sum(counts)
    figure = Figure(read, last_at, Basis.COUNTED) if read else resting(last_at)
    return {(READINGS_TODAY.name, ""): figure}


PROVIDER = Provider((READINGS_TODAY,), frozenset({"runs", "washes", "casks"}), fresh_s=60, compute=compute)
