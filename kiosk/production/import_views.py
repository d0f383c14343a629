"""The pages on which whoever writes records sends files of them: looked at first, then recorded."""

from __future__ import annotations

from contextlib import closing

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.entering.labels import LABELS, TITLES
from kiosk.production.entering.showing import me
from kiosk.production.importing import scratch
from kiosk.production.importing.faults import RecordFaults
from kiosk.production.importing.importing import import_as_shown, look_at
from kiosk.production.importing.kinds import KINDS
from kiosk.production.importing.report import Otherwise
from kiosk.production.importing.sources import Files, read_files
from kiosk.production.importing.telling import counted, faults_told, held_told
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence

MOST_SENT = 10_000_000
"""Larger tables come in at the console: while they are looked at, nothing else can be recorded."""
MOST_FILES = 40
WAITING = ".sent-files"
GONE = N_("These files are no longer here. Send them again.")


@bp.url_value_preprocessor
def room_for_files(endpoint: str | None, values: dict[str, object] | None) -> None:
    """Let this one page take more than a form does; who may send is asked before anything is read."""
    if endpoint == "production.look_at_files":
        request.max_content_length = MOST_SENT


@bp.get("/records/import")
@open_to(*WRITERS)
def import_form() -> str:
    """Ask for files, and show what may stand in each."""
    return _form("")


@bp.post("/records/import")
@open_to(*WRITERS)
def look_at_files() -> Response:
    """Show what the files that came would do."""
    files = {}
    for number, sent in enumerate(request.files.getlist("files")[:MOST_FILES], start=1):
        name = str(sent.filename)
        with closing(sent):
            # Two of one name, out of two folders: the second is told as no file of records, not lost.
            files[f"{number}/{name}" if name in files else name] = sent.read()
    files.pop("", None)  # what a browser sends where nothing was chosen
    mark = scratch.put(site_context().site.folder / WAITING, files, now())
    return _look(files, mark, "")


@bp.post("/records/import/<mark>")
@open_to(*WRITERS)
def import_files(mark: str) -> Response:
    """Record files that were looked at."""
    site, place = site_context().site, site_context().site.folder / WAITING
    files = scratch.take(place, mark)
    if files is None:
        return make_response(_form(words().gettext(GONE)), 409)
    try:
        read = read_files(files, "", site.zone)
        import_as_shown(site_context().store, site, read, forms.text("shown"), by=me(), at=now())
    except (Otherwise, RecordFaults):
        return _look(files, mark, sentence(Otherwise(), words()))
    scratch.forget(place, mark)
    return redirect(url_for("production.records", done=url_for("production.import_form")))


def _form(wrong: str) -> str:
    here = {"kinds": KINDS, "labels": LABELS, "titles": TITLES, "most_mb": MOST_SENT // 1_000_000}
    return render_template("production/import.html", wrong=wrong, **here)


def _look(files: Files, mark: str, wrong: str) -> Response:
    site = site_context().site
    read = read_files(files, words().gettext(N_("What you sent")), site.zone)
    report = look_at(site_context().store, site, read, by=me(), at=now())
    here = {
        "files": {file: counted(counts, words()) for file, counts in report.files.items()},
        "faults": list(faults_told(report, words())),
        "held": list(held_told(report, words())),
    }
    page = render_template("production/import_look.html", report=report, mark=mark, wrong=wrong, **here)
    return make_response(page, 422 if report.faults else 409 if wrong else 200)
