"""Every page of the records, by what it is about."""

from kiosk.production.blueprint import bp
from kiosk.production.forms import record_views
from kiosk.production.forms import views as forms_views
from kiosk.production.forms.views import HELD_RECORDS
from kiosk.production.importing import views as import_views
from kiosk.production.readings_api import views as readings_views
from kiosk.production.runs import views as run_views

__all__ = [
    "HELD_RECORDS",
    "bp",
    "forms_views",
    "import_views",
    "readings_views",
    "record_views",
    "run_views",
]
