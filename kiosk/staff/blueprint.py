"""The one blueprint of the staff's pages, on which their modules of views register."""

from __future__ import annotations

from flask import Blueprint

bp = Blueprint("staff", __name__, template_folder="templates", url_prefix="/staff")
