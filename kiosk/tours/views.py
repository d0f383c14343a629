"""Staff pages of the day: its tours, and what a guide can tell this morning."""

from datetime import timedelta

from flask import render_template, request

from kiosk.entries.views import count_held
from kiosk.site.products import allergen_names
from kiosk.staff.people import ROLES
from kiosk.store.ledgers import new_key
from kiosk.tours.blueprint import bp, sees_names, stop_names
from kiosk.tours.board import SHORT_NOTE, board
from kiosk.tours.booking_files import views as file_views
from kiosk.tours.calendar import views as calendar_views
from kiosk.tours.calendar.days import service_day
from kiosk.tours.checkin import views as checkin_views
from kiosk.tours.day import this_morning, unattended_days
from kiosk.tours.planning import pages as booking_views
from kiosk.tours.planning import views as planning_views
from kiosk.tours.planning.tours import WHY
from kiosk.tours.regrouping import views as regrouping_views
from kiosk.tours.setup import views as setup_views
from kiosk.tours.walk import pages as walk_pages
from kiosk.tours.walk import views as house_views
from kiosk.tours.walk.closures import closed_stops
from kiosk.web import access
from kiosk.web.access import open_to
from kiosk.web.context import now, page_reader, site_context
from kiosk.words.formats import parse_day

__all__ = [
    "booking_views",
    "bp",
    "calendar_views",
    "checkin_views",
    "file_views",
    "house_views",
    "planning_views",
    "regrouping_views",
    "setup_views",
    "walk_pages",
]


@bp.get("/")
@open_to(*ROLES)
def day() -> str:
    """Show the tours of today, or of the day that `?day=` names."""
    site, person = site_context().site, access.require_person()
    today = site.service_day(now())
    asked = parse_day(request.args.get("day", "")) or today
    sees = sees_names(asked) and access.may_open("tours.group")
    with site_context().store.read() as session:
        rows = board(session, site, asked, now(), person.roles, with_needs=sees)
        days = unattended_days(session, now())
        known = service_day(session, site, asked)
        closures = closed_stops(session, now()) if asked == today else {}
    begins, _ = site.day_bounds(today)
    lines = this_morning(site_context().content, page_reader(), site.local(begins)) if asked == today else []
    here = {"rows": rows, "held": count_held(), "unattended_days": days, "morning": lines}
    here |= {"day": asked, "today": today, "one_day": timedelta(days=1), "short_note": SHORT_NOTE}
    here |= {"new_key": new_key, "allergen_names": allergen_names, "why": WHY}
    here |= {"known": known, "closures": closures, "stop_names": stop_names()}
    return render_template("tours/day.html", **here)
