"""The one blueprint of the tours: the day with its check-in, and the planning of tours and bookings."""

from datetime import date

from flask import Blueprint

from kiosk.web import access
from kiosk.web.context import now, site_context

bp = Blueprint("tours", __name__, template_folder="templates", url_prefix="/staff")
PLANNERS = ("guide", "manager")
STEPPERS = ("guide", "bar", "manager")


def sees_names(day: date) -> bool:
    """Return whether the person who asks sees names and needs of the guests of a service day."""
    return day == site_context().site.service_day(now()) or access.require_person().sees_other_days
