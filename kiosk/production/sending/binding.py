"""Instruments that send readings: their token, and the vessels that they may speak of."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from kiosk.site.settings import Site
from kiosk.staff.devices import new_instrument
from kiosk.store.tables.production import instrument_vessels, vessels


def bind(session: Session, site: Site, name: str, codes: Sequence[str], now: datetime) -> str:
    """Record an instrument bound to the vessels named and return its token. Raises StaffError."""
    made = new_instrument(session, site, name, now)
    for vessel_id in session.scalars(select(vessels.c.id).where(vessels.c.code.in_(codes))).all():
        session.execute(insert(instrument_vessels).values(device_id=made.id, vessel_id=vessel_id))
    return made.token


def vessel_codes(session: Session) -> list[str]:
    """Return the codes of all vessels."""
    return list(session.scalars(select(vessels.c.code).order_by(vessels.c.code)))
