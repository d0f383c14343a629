"""Why a stop is closed, in words for staff and for guests."""

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from kiosk.figures.tours.closures import Closure
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words

REASON_WORDS: Mapping[str, tuple[str, str]] = {
    "co2": (N_("CO2"), N_("Closed today: the air inside is being checked.")),
    "still": (N_("Work at the still"), N_("Closed today: there is work at the still.")),
    "spraying": (N_("Spraying"), N_("Closed today: the field was sprayed.")),
    "machine": (N_("Machine moving"), N_("Closed today: machines are moving there.")),
    "fire": (N_("Cane fire"), N_("Closed today: cane is burning nearby.")),
    "lightning": (N_("Lightning"), N_("Closed today: there is lightning nearby.")),
    "heat": (N_("Heat"), N_("Closed today: it is too hot there.")),
    "wet_floor": (N_("Wet floor"), N_("Closed today: the floor is wet.")),
    "other": (N_("Another reason"), N_("Closed today.")),
}
"""Of each reason its name for staff and the sentence for guests."""


def reason_name(reason: str, words: Words) -> str:
    """Return the name of a reason for staff."""
    return words.gettext(REASON_WORDS[reason][0])


def closed_sentence(closure: Closure, zone: ZoneInfo, words: Words, now: datetime) -> str:
    """Return why a stop is closed, and when it opens again today, as a sentence for guests."""
    why = words.gettext(REASON_WORDS[closure.reason][1])
    until = closure.until
    if until is None or until.astimezone(zone).date() != now.astimezone(zone).date():
        return why
    again = words.gettext("Open again from {time}", time=formats.time(until, zone, words))
    return f"{why} {again}"
