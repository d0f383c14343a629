"""Pages of the inspection: the report of a span of days as a PDF, its pours as CSV."""

from datetime import date
from functools import partial

from flask import make_response, render_template
from werkzeug.wrappers import Response

from kiosk.paper.sheet import Paper
from kiosk.store import audit
from kiosk.store.engine import run
from kiosk.tasting.blueprint import bp
from kiosk.tasting.inspection.documents import pours_csv, report, report_pdf
from kiosk.tasting.inspection.records import (
    LONGEST,
    Inspection,
    SpanRefused,
    check_span,
    read_inspection,
)
from kiosk.tasting.inspection.rules_text import ReportText
from kiosk.tasting.shift_closing.views import document
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence
from kiosk.words.formats import parse_day

ACT = "inspection"
"""The name under which the audit history keeps who downloaded which days."""


@bp.get("/inspection")
@open_to("manager")
def inspection() -> str:
    """Show the form that asks for the days, filled in with today."""
    return _page("")


@bp.post("/inspection")
@open_to("manager")
def take_inspection() -> Response:
    """Answer the report as a PDF, or the pours as CSV, and record who downloaded it."""
    try:
        first, last = _days()
        check_span(site_context().site, first, last, now())
    except SpanRefused as refused:
        return make_response(_page(sentence(refused, words())), 400)
    kind = "csv" if forms.text("as") == "csv" else "pdf"
    with site_context().store.read() as session:
        inspection = read_inspection(session, site_context().site, first, last)
    content = _table(inspection) if kind == "csv" else _report(inspection)
    what = {"first": first.isoformat(), "last": last.isoformat(), "as": kind}
    record = partial(audit.record_act, act=ACT, what=what, by=access.require_person().id, at=now())
    run(site_context().store, record)
    return document(content, f"inspection-{first}-{last}.{kind}", "attachment")


def _report(inspection: Inspection) -> bytes:
    site, paper_name = site_context().site, forms.text("paper")
    paper = Paper(paper_name) if paper_name in set(Paper) else Paper.LETTER
    text = report(inspection, site, words(), access.require_person().name, now())
    return report_pdf(text, site, words(), paper)


def _table(inspection: Inspection) -> bytes:
    return pours_csv(ReportText(inspection, site_context().site, words())).encode("utf-8-sig")


def _page(error: str) -> str:
    today = site_context().site.service_day(now()).isoformat()
    days = (forms.text("first") or today, forms.text("last") or today)
    papers = [(Paper.LETTER, words().gettext("Letter")), (Paper.A4, "A4")]
    return render_template("inspection/inspection.html", wrong=error, days=days, today=today, papers=papers)


def _days() -> tuple[date, date]:
    """Return the two days that were sent. Raises SpanRefused for a text that is no date."""
    first, last = (parse_day(forms.text(name)) for name in ("first", "last"))
    if first is None or last is None:
        raise SpanRefused(n=LONGEST)
    return first, last
