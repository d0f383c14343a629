"""An inspection's documents: its report, with its sections in order, as a PDF, and its pours as CSV."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from kiosk.figures.drinks import FL_OZ_ML, drinks_had
from kiosk.paper import sheet
from kiosk.paper.fonts import BOLD as BOLD_FACE
from kiosk.paper.pages import BOLD, HEADING, QUIET, TITLE, Pages, right
from kiosk.paper.sheet import MM, Paper
from kiosk.site.settings import Site, Units
from kiosk.tasting.inspection import rules_text as rules
from kiosk.tasting.inspection import served_text as served
from kiosk.tasting.inspection.records import Inspection
from kiosk.tasting.inspection.rules_text import ReportText, Section
from kiosk.tasting.rules.judging import Verdict
from kiosk.tasting.shift_closing.text import csv_text
from kiosk.words import formats
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class Report:
    """An inspection's report as text; `nothing` stands in place of an empty table."""

    title: str
    span: str
    signature: str  # when and by whom it was made
    sections: Sequence[Section]
    nothing: str


def report(inspection: Inspection, site: Site, words: Words, by: str, now: datetime) -> Report:
    """Return an inspection's report in the reader's language, made at `now` by the person named `by`."""
    text = ReportText(inspection, site, words)
    tables = (served.by_day, served.by_product, served.by_hour, served.by_guest)
    events = (served.checks, served.refused, served.against_rules, served.corrections, served.endings)
    about = (rules.tightened, rules.on_duty, *tables, *events, rules.shifts, rules.approvals)
    return Report(
        title=words.gettext("Record of service"),
        span=_span(inspection, words),
        signature=words.gettext(
            "Made on {moment} by {name}. No guest is named: a guest is a number of one service day.",
            moment=text.moment(now),
            name=by,
        ),
        sections=[*rules.in_force(text), *(section(text) for section in about)],
        nothing=words.gettext("Nothing in these days."),
    )


def _span(inspection: Inspection, words: Words) -> str:
    first, last = (formats.day(day, words) for day in (inspection.first, inspection.last))
    return first if first == last else words.gettext("{first} to {last}", first=first, last=last)


CELL = sheet.style(8)
HEAD = sheet.style(8, font=BOLD_FACE)
LOOKS = {False: (CELL, HEAD), True: (right(CELL), right(HEAD))}


def report_pdf(report: Report, site: Site, words: Words, paper: Paper) -> bytes:
    """Return a report as a PDF, the same bytes each time."""

    def foot(page: int, of: int) -> str:
        return words.gettext("Page {n} of {of}", n=page, of=of)

    head = f"{site.name} · {report.title} · {report.span}"
    pages = Pages(paper, f"{report.title} · {site.name}", site.name, words.language, head=head, foot=foot)
    pages.text(site.name, QUIET)
    pages.text(report.title, TITLE)
    pages.text(report.span, BOLD, after=1 * MM)
    pages.text(report.signature, QUIET)
    for section in report.sections:
        _section(pages, section, report.nothing)
    return pages.done()


def _section(pages: Pages, section: Section, nothing: str) -> None:
    pages.room_for(30 * MM)
    pages.top -= 3 * MM
    pages.text(section.title, HEADING, after=1 * MM)
    pages.text(section.note, QUIET, after=1 * MM)
    rows = section.rows
    if not rows:
        pages.text("" if section.note else nothing, CELL)
        return

    head = [(column.head, LOOKS[column.amount][1], column.share) for column in section.columns]
    cells = (zip(section.columns, row, strict=True) for row in rows)
    body = ([(cell, LOOKS[column.amount][0], column.share) for column, cell in row] for row in cells)
    pages.table(head, body)


def pours_csv(text: ReportText) -> str:
    """Return an inspection's pours as CSV, a line each, without guests' names."""
    columns = _pour_columns(text)
    lines = ([cell(pour) for cell in columns.values()] for pour in text.inspection.verdicts)
    return csv_text([list(columns), *lines])


def _pour_columns(text: ReportText) -> dict[str, Callable[[Verdict], Any]]:
    """Return the cells of a pour's line by the heads of their columns."""
    _, site = text.words.gettext, text.site
    digests = {version.key: version.digest for version in text.inspection.versions}

    def broken(pour: Verdict) -> str:
        if pour.reasons is None:
            return _("not judged")
        return text.reasons(pour.reasons, pour.entry.policy_key)

    def ounces(pour: Verdict) -> float:
        return round(float(pour.served.volume_ul / 1000 / FL_OZ_ML), 3)

    return {
        _("Day"): lambda pour: site.service_day(pour.served.at).isoformat(),
        _("Time"): lambda pour: site.local(pour.served.at).isoformat(" ", "seconds"),
        _("Room"): lambda pour: text.room(pour.entry.room),
        _("Guest"): lambda pour: text.guest(pour.served.guest_id),
        _("Product"): lambda pour: text.product(pour.served.glass),
        **({"fl oz": ounces} if site.units is Units.US else {}),
        "mL": lambda pour: pour.served.volume_ul / 1000,
        _("% vol"): lambda pour: pour.served.abv_e2 / 100,
        _("Standard drinks"): lambda pour: drinks_had(pour.served.ethanol, site.standard_drink),
        _("Entered late"): lambda pour: _("no") if pour.entry.asked else _("yes"),
        _("Served by"): lambda pour: text.name(pour.entry.by),
        _("Claimed"): lambda pour: _("no") if pour.entry.server_checked else _("yes"),
        _("Rules version"): lambda pour: digests.get(pour.entry.policy_key, "")[:16],
        _("Rule breached"): broken,
        _("Typed in"): lambda pour: text.typed_in(pour.entry),
    }
