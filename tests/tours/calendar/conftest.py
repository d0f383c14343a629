"""A guide's tablet in a house with a route of three stops."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from kiosk.site.settings import RouteStop
from tests.actors import Clock, Screen, running, signed_in
from tests.tasting_room import Tasting

ROUTE = (
    RouteStop("still-house", 15, 5, 10),
    RouteStop("cask-store", 15, 5, 10),
    RouteStop("tasting-room", 40, 5, 10),
)


@pytest.fixture
def routed(paged: Tasting) -> Tasting:
    """Two guests in a house with a route."""
    paged.site = replace(paged.site, route=ROUTE)
    return paged


@pytest.fixture
def desk(routed: Tasting, now: datetime) -> Screen:
    """A tablet on which Gil, a guide, is signed in."""
    app = running(routed.site, routed.store, Clock(now))
    return signed_in(app, routed.store, routed.site, now, "guide", "Gil")
