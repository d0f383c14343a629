"""Every page of the records, by what it is about."""

from __future__ import annotations

from kiosk.production import import_views
from kiosk.production.blueprint import bp
from kiosk.production.entering import held_views, record_views
from kiosk.production.entering import views as forms_views
from kiosk.production.runs import instrument_views
from kiosk.production.runs import views as run_views
from kiosk.production.sending import views as sending_views

__all__ = [
    "bp",
    "forms_views",
    "held_views",
    "import_views",
    "instrument_views",
    "record_views",
    "run_views",
    "sending_views",
]
