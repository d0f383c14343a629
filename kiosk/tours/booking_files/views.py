"""The page on which a file of bookings is sent, previewed, then recorded."""

from contextlib import closing
from functools import partial

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.store.engine import run
from kiosk.tours.blueprint import PLANNERS, bp
from kiosk.tours.booking_files import files
from kiosk.tours.booking_files.files import CellFault, FileOutdated, FilePlan
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import fact_text, sentence

MOST_SENT = 1_000_000
MOST_LINES = 50
IN_CELL = N_("Row {row}, {column}: {sentence}")
IN_ROW = N_("Row {row}: {sentence}")


@bp.get("/bookings/file")
@open_to(*PLANNERS)
def bookings_file() -> str:
    """Ask for a file of bookings, and show what may stand in it."""
    return _page(None, "", "")


@bp.post("/bookings/file")
@open_to(*PLANNERS, most_bytes=MOST_SENT)
def preview_bookings() -> Response:
    """Show what a file of bookings would do; nothing is recorded yet."""
    data = b""
    for sent in request.files.getlist("files")[:1]:
        with closing(sent):
            data = sent.read()
    return _preview(data, "")


@bp.post("/bookings/file/record")
@open_to(*PLANNERS, most_bytes=MOST_SENT)
def record_bookings() -> Response:
    """Record the bookings of a file that was shown."""
    here, data = site_context(), request.form.get("table", "").encode()
    work = partial(files.record_file, site=here.site, data=data, shown=forms.text("shown"))
    try:
        run(here.store, partial(work, by=access.require_person().id, at=now()))
    except FileOutdated as outdated:
        return _preview(data, sentence(outdated, words()), outdated.status)
    return redirect(url_for("tours.week"), 303)


def _preview(data: bytes, wrong: str, status: int = 200) -> Response:
    here = site_context()
    read, faults = files.read_file(data, here.site)
    with here.store.read() as session:
        plan = files.plan_file(session, read, faults)
    table = "" if plan.faults else data.decode("utf-8-sig")
    return make_response(_page(plan, table, wrong), 422 if plan.faults else status)


def _page(plan: FilePlan | None, table: str, wrong: str) -> str:
    lines = [_line(fault) for fault in plan.faults[:MOST_LINES]] if plan else []
    more = max(0, len(plan.faults) - MOST_LINES) if plan else 0
    here = {"plan": plan, "table": table, "wrong": wrong, "lines": lines, "more": more}
    return render_template("tours/bookings_file.html", columns=files.COLUMNS, needed=files.NEEDED, **here)


def _line(fault: CellFault) -> str:
    facts = {name: fact_text(value, words()) for name, value in fault.facts.items()}
    said = words().gettext(fault.message, **facts)
    if not fault.column:
        return words().gettext(IN_ROW, row=str(fault.row), sentence=said)
    return words().gettext(IN_CELL, row=str(fault.row), column=fault.column, sentence=said)
