"""Cane milled today; on most days the mill rests, and then its last milling is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.production.live.saying import resting, seconds
from kiosk.site.settings import Site
from kiosk.store.tables.production import loads

MILLED_TODAY = Spec(
    "cane_milled_today",
    Unit.TONNE,
    digits=1,
    # A sum of today's loads stays true for as long as today lasts.
    stale_after_s=seconds(days=1),
)


def compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Return the cane milled in this service day, or when the mill last ran."""
    day_begins, _ = site.day_bounds(site.service_day(now))
    c = loads.c
    today = session.execute(
        select(c.id, c.cane_g, c.milled_at)
        .where(c.milled_at >= day_begins, c.milled_at <= now)
        .order_by(c.milled_at)
    ).all()
    last_at = session.scalar(select(func.max(c.milled_at)).where(c.milled_at <= now))
    return {(MILLED_TODAY.name, ""): _milled(today) if today else resting(last_at)}


def _milled(today: Sequence[Row[*tuple[Any, ...]]]) -> Figure:
    tonnes = sum(load.cane_g for load in today) / 1e6
    return Figure(
        tonnes, today[-1].milled_at, Basis.MEASURED, rests_on=tuple(f"load:{load.id}" for load in today)
    )


PROVIDER = Provider((MILLED_TODAY,), frozenset({"loads"}), fresh_s=60, compute=compute)
