"""The one blueprint of the tasting, on which its modules of views register."""

from __future__ import annotations

from flask import Blueprint

bp = Blueprint("tasting", __name__, template_folder="templates", url_prefix="/staff")
POURERS = ("guide", "bar", "manager")
CLOSERS = ("bar", "manager")
