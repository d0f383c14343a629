"""A day at a tasting room, an adult in it, and what was served to them."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from kiosk.figures.drinks import Guest, Offer, Room, Served, ServiceState

ZONE = ZoneInfo("Etc/GMT+4")
BEGUN = datetime(2026, 6, 16, 5, tzinfo=ZONE)
NOON = BEGUN + timedelta(hours=7)
ROOM = Room("main", BEGUN, BEGUN + timedelta(days=1), ZONE)
ADULT = Guest(ServiceState.MAY_BE_SERVED, visit=1)


def served(n: int, at: datetime, offer: Offer, visit: int = 1) -> Served:
    """Return the nth glass, served to the first guest."""
    return Served(f"{n:032x}", at, 1, visit, offer.product, offer.volume_ul, offer.abv_e2, offer.neat)
