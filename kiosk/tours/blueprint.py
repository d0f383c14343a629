"""The one blueprint of the tours, and what the views of their rooms share."""

from datetime import date
from typing import Any

from flask import Blueprint

from kiosk.figures.tours.routes import Stop
from kiosk.tours.route import site_route
from kiosk.web import access
from kiosk.web.context import now, site_context, words

bp = Blueprint("tours", __name__, template_folder="templates", url_prefix="/staff")
PLANNERS = ("guide", "manager")
STEPPERS = ("guide", "bar", "manager")


def sees_names(day: date) -> bool:
    """Return whether the person who asks sees names and needs of the guests of a service day."""
    return day == site_context().site.service_day(now()) or access.require_person().sees_other_days


def who_changes() -> dict[str, Any]:
    """Return who changes a row by this request, and when."""
    return {"by": access.require_person().id, "at": now()}


def route_here() -> tuple[Stop, ...]:
    """Return the stops of the site's route, with how far each may be cut."""
    return site_route(site_context().site, site_context().content.stops)


def stop_names() -> dict[str, str]:
    """Return what the reader's language calls each stop."""
    return {slug: stop.names[words().language] for slug, stop in site_context().content.stops.items()}
