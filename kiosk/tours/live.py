"""Figures of the day's tours."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from kiosk.figures.figure import Basis, Figure, Provider, Spec, Unit
from kiosk.site.settings import Site
from kiosk.store.tables.tours import guests, parties, tours

GUESTS_TODAY = Spec("guests_today", Unit.COUNT, digits=0, stale_after_s=300)


def _compute(session: Session, site: Site, now: datetime, of: str) -> Mapping[tuple[str, str], Figure]:
    """Count the guests who have a number of this service day, without cancelled tours and parties."""
    counts = (
        select(func.count())
        .select_from(guests)
        .join(tours, tours.c.id == guests.c.tour_id)
        .join(parties, parties.c.id == guests.c.party_id)
        .where(
            guests.c.day == site.service_day(now),
            tours.c.cancelled_at.is_(None),
            parties.c.cancelled_at.is_(None),
        )
    )
    found = session.execute(counts).scalar_one()
    return {(GUESTS_TODAY.name, ""): Figure(found, now, Basis.COUNTED)}


PROVIDERS = (Provider((GUESTS_TODAY,), frozenset({"guests", "tours"}), 60, _compute),)
