"""Every pour of an inspected span as a table for spreadsheets, a line each, no guest named."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from io import StringIO

from kiosk.figures.drinks import drinks_had
from kiosk.tasting.closing_text import safe
from kiosk.tasting.inspection_saying import Saying
from kiosk.tasting.judging import Verdict


def pours_csv(say: Saying) -> str:
    """Return what was served as CSV; text that a spreadsheet could take for a formula gets an apostrophe."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([safe(head) for head in _heads(say)])
    for one in say.told.verdicts:
        writer.writerow([safe(cell) for cell in _cells(say, one)])
    return out.getvalue()


def _heads(say: Saying) -> Iterable[str]:
    _ = say.words.gettext
    yield from (_("Day"), _("Time"), _("Room"), _("Guest"), _("Product"), "mL", _("% vol"))
    yield from (_("Standard drinks"), _("Told afterwards"), _("Served by"))
    yield from (_("Check number of the rules"), _("Against which rule"))


def _cells(say: Saying, one: Verdict) -> Iterable[object]:
    served, local = one.served, say.site.local(one.served.at)
    versions = {version.key: version.digest for version in say.told.versions}
    yield say.site.service_day(served.at).isoformat()
    yield local.isoformat(" ", "seconds")
    yield one.room
    yield say.guest(served.guest_id)
    yield say.product(served.glass)
    yield served.volume_ul / 1000
    yield served.abv_e2 / 100
    yield drinks_had(served.ethanol, say.site.standard_drink)
    yield say.words.gettext("no") if one.entry.asked else say.words.gettext("yes")
    yield say.name(one.entry.by)
    yield versions.get(one.entry.policy_key, "")[:16]
    why = None if one.reasons is None else say.why(one.reasons, one.entry.policy_key)
    yield say.words.gettext("not judged") if why is None else why
