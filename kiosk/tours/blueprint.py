"""The one blueprint of the tours: the day with its check-in, and the planning of tours and bookings."""

from flask import Blueprint

bp = Blueprint("tours", __name__, template_folder="templates", url_prefix="/staff")
PLANNERS = ("guide", "manager")
STEPPERS = ("guide", "bar", "manager")
