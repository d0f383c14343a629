"""The one blueprint of the records, on which their modules of views register."""

from flask import Blueprint

bp = Blueprint("production", __name__, template_folder="templates", url_prefix="/staff")
WRITERS = ("production", "manager")
