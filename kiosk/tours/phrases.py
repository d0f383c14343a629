"""The words of check-in. The words of the states are the tasting room's own."""

from __future__ import annotations

from collections.abc import Mapping

from kiosk.figures.drinks import ServiceState
from kiosk.words.catalogs import N_

_ACTS: Mapping[str, str] = {
    "id_check": N_("ID checked"),
    "under_age": N_("Under age"),
    "no_alcohol": N_("No alcohol today"),
    "no_alcohol_lifted": N_("Drinking after all"),
}


def act_words(kind: str, state: ServiceState) -> str:
    """Return the message on the button of a mark; under age says whose document check it takes."""
    if kind == "id_check" and state is ServiceState.UNDER_AGE:
        return N_("ID checked by second person")
    return _ACTS[kind]
