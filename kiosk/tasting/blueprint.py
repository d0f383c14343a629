"""The one blueprint of the tasting: its rooms register their views on it and keep their own templates."""

from pathlib import Path

from flask import Blueprint
from jinja2 import FileSystemLoader

bp = Blueprint("tasting", __name__, url_prefix="/staff")
bp.jinja_loader = FileSystemLoader(sorted(Path(__file__).parent.glob("*/templates")))
POURERS = ("guide", "bar", "manager")
CLOSERS = ("bar", "manager")
