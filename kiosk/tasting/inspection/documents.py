"""An inspection's report: its sections in the order in which they are read.

An inspection's report on paper.

Every pour of an inspected span as a table for spreadsheets, a line each, no guest named.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import StringIO

from kiosk.figures.drinks import drinks_had
from kiosk.paper import sheet
from kiosk.paper.fonts import BOLD as BOLD_FACE
from kiosk.paper.pages import HEADING, QUIET, TITLE, Cell, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site
from kiosk.tasting.inspection import rules_text as rules
from kiosk.tasting.inspection import served_text as served
from kiosk.tasting.inspection.inspecting import Inspection
from kiosk.tasting.inspection.rules_text import Saying, Section
from kiosk.tasting.rules.judging import Verdict
from kiosk.tasting.shift_closing.text import safe
from kiosk.words import formats
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
    about = (rules.tightened, rules.on_duty, *tables, *events, rules.shifts, rules.approvals)
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
    first, last = (formats.day(day, words) for day in (told.first, told.last))
    return first if first == last else words.gettext("{first} to {last}", first=first, last=last)


CELL = sheet.style(8)
HEAD = sheet.style(8, font=BOLD_FACE)
LOOKS = {False: (CELL, HEAD), True: (right(CELL), right(HEAD))}


def report_pdf(told: Report, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a report as a PDF, the same bytes each time."""

    def foot(page: int, of: int) -> str:
        return words.gettext("Page {n} of {of}", n=page, of=of)

    head = f"{site.name} · {told.title} · {told.span}"
    pages = Pages(paper, f"{told.title} · {site.name}", site.name, words.language, head=head, foot=foot)
    pages.text(site.name, QUIET)
    pages.text(told.title, TITLE)
    pages.text(told.span, HEADING, after=1 * MM)
    pages.text(told.made, QUIET)
    for section in told.sections:
        _section(pages, section, told.nothing)
    return pages.done()


def _section(pages: Pages, section: Section, nothing: str) -> None:
    pages.room_for(30 * MM)
    pages.top -= 3 * MM
    pages.text(section.title, HEADING, after=1 * MM)
    pages.text(section.note, QUIET, after=1 * MM)
    if not section.rows:
        pages.text("" if section.note else nothing, CELL)
        return

    def heads() -> None:
        pages.line([(c.head, LOOKS[c.amount][1], c.share) for c in section.columns])

    heads()
    pages.repeat = heads
    for row in section.rows:
        cells: list[Cell] = [
            (said, LOOKS[c.amount][0], c.share) for c, said in zip(section.columns, row, strict=True)
        ]
        pages.line(cells)
    pages.repeat = None


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
