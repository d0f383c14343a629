"""The words of check-in: states and the marks that change them."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.figures.drinks import ServiceState
from kiosk.words.marker import N_

# State: the mark's shape, and its word. Colour is never the only difference.
STATES: Mapping[ServiceState, tuple[str, str]] = {
    ServiceState.NOT_CHECKED: ("wait", N_("age not checked")),
    ServiceState.MAY_BE_SERVED: ("ok", N_("may be served")),
    ServiceState.NONE_TODAY: ("none", N_("none today")),
    ServiceState.UNDER_AGE: ("stop", N_("under age")),
    ServiceState.STOPPED: ("stop", N_("service ended")),
}

ACT_WORDS: Mapping[str, str] = {
    "document": N_("Document seen"),
    "under_age": N_("Under age"),
    "none_today": N_("None today"),
    "drinks_today": N_("Drinks today"),
}
