"""Every page of the tasting, by what it is about."""

from kiosk.tasting.approvals import views as approval_views
from kiosk.tasting.blueprint import bp
from kiosk.tasting.bottles import views as bottle_views
from kiosk.tasting.bottles.views import HELD_WEIGHINGS
from kiosk.tasting.flights import views as flight_views
from kiosk.tasting.inspection import views as inspection_views
from kiosk.tasting.room import views as room_views
from kiosk.tasting.rules import views as rule_views
from kiosk.tasting.shift_closing import views as closing_views

__all__ = [
    "HELD_WEIGHINGS",
    "approval_views",
    "bottle_views",
    "bp",
    "closing_views",
    "flight_views",
    "inspection_views",
    "room_views",
    "rule_views",
]
