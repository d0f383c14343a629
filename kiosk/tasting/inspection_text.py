"""An inspection's report: its sections in the order in which they are read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from kiosk.site.settings import Site
from kiosk.tasting import inspection_rules as rules
from kiosk.tasting import inspection_served as served
from kiosk.tasting.inspecting import Inspection
from kiosk.tasting.inspection_saying import Saying, Section
from kiosk.words import dates
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class Report:
    """An inspection as text; `nothing` is said in place of an empty table."""

    title: str
    span: str
    made: str
    sections: Sequence[Section]
    nothing: str


def report(told: Inspection, site: Site, words: Words, by: str, now: datetime) -> Report:
    """Return an inspection's report, made by somebody at `now`."""
    say = Saying(told, site, words)
    tables = (served.by_day, served.by_product, served.by_hour, served.by_guest)
    events = (served.checks, served.refused, served.against_rules, served.endings)
    about = (rules.tightened, rules.on_duty, *tables, *events, rules.shifts, rules.releases)
    return Report(
        title=words.gettext("Record of service"),
        span=_span(told, words),
        made=words.gettext(
            "Made on {moment} by {name}. No guest is named: a guest is a number of one service day.",
            moment=say.moment(now),
            name=by,
        ),
        sections=[*rules.in_force(say), *(section(say) for section in about)],
        nothing=words.gettext("Nothing in this span."),
    )


def _span(told: Inspection, words: Words) -> str:
    first, last = (dates.day(day, words) for day in (told.first, told.last))
    return first if first == last else words.gettext("{first} to {last}", first=first, last=last)
