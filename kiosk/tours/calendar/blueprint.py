"""The blueprint of the calendar feed, whose address lies outside the pages of staff."""

from flask import Blueprint

feed_bp = Blueprint("calendar", __name__)
