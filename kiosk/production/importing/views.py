"""The pages on which files of records are sent, previewed, then recorded."""

from collections.abc import Callable
from contextlib import closing
from functools import wraps

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.importing.files import read_files
from kiosk.production.importing.previews import (
    PreviewOutdated,
    counts_line,
    fault_lines,
    forget_upload,
    held_lines,
    import_records,
    keep_upload,
    load_upload,
    preview_import,
)
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.kinds import KINDS
from kiosk.production.records.recording import ReadRows
from kiosk.web import forms
from kiosk.web.access import open_to, require_person
from kiosk.web.context import now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence

MOST_SENT = 10_000_000
"""Larger tables come in at the console."""
MOST_FILES = 40
UPLOADS = ".sent-files"
GONE = N_("These files are no longer here. Send them again.")


class ImportUnderWay(Exception):
    """Another person's files are being read; two at once would slow every screen."""

    status = 503
    message = N_("The files of another import are being read. Send yours again in a minute.")


def one_at_a_time(view: Callable[..., Response]) -> Callable[..., Response]:
    """Let one request at a time read files of records. Raises ImportUnderWay for a second one."""

    @wraps(view)
    def alone(**place: str) -> Response:
        importing = site_context().importing
        if not importing.acquire(blocking=False):
            raise ImportUnderWay()
        try:
            return view(**place)
        finally:
            importing.release()

    return alone


@bp.get("/records/import")
@open_to(*WRITERS)
def import_form() -> str:
    """Ask for files, and show what may stand in each."""
    return _form("")


@bp.post("/records/import")
@open_to(*WRITERS, most_bytes=MOST_SENT)
@one_at_a_time
def preview_files() -> Response:
    """Show what an import of the uploaded files would record, and the faults it would meet.

    Nothing is recorded yet: where every file could be read, their rows are kept to be confirmed.
    """
    files = {}
    for number, sent in enumerate(request.files.getlist("files")[:MOST_FILES], start=1):
        name = str(sent.filename)
        with closing(sent):
            # Two of one name, out of two folders: the second is reported as an unknown file, not lost.
            files[f"{number}/{name}" if name in files else name] = sent.read()
    files.pop("", None)  # what a browser sends where nothing was chosen
    read = read_files(files, words().gettext(N_("What you sent")), site_context().site.zone)
    mark = "" if read.faults else keep_upload(site_context().site.folder / UPLOADS, read, now())
    return _preview(read, mark, "")


@bp.post("/records/import/<mark>")
@open_to(*WRITERS)
@one_at_a_time
def import_files(mark: str) -> Response:
    """Record files whose preview was confirmed."""
    site, folder = site_context().site, site_context().site.folder / UPLOADS
    read, by = load_upload(folder, mark, site.zone), require_person().id
    if read is None:
        return make_response(_form(words().gettext(GONE)), 409)
    try:
        import_records(site_context().store, site, read, forms.text("shown"), by=by, at=now())
    except (PreviewOutdated, RecordFaults):
        return _preview(read, mark, sentence(PreviewOutdated(), words()))
    forget_upload(folder, mark)
    return redirect(url_for("production.records", done=url_for("production.import_form")))


def _form(wrong: str) -> str:
    here = {"kinds": KINDS, "most_mb": MOST_SENT // 1_000_000}
    return render_template("production/import.html", wrong=wrong, **here)


def _preview(read: ReadRows, mark: str, wrong: str) -> Response:
    report = preview_import(site_context().store, site_context().site, read, at=now())
    here = {
        "files": {file: counts_line(counts, words()) for file, counts in report.files.items()},
        "faults": list(fault_lines(report.faults, words())),
        "held": list(held_lines(report, words(), site_context().site.units)),
    }
    page = render_template("production/import_preview.html", report=report, mark=mark, wrong=wrong, **here)
    return make_response(page, 422 if report.faults else 409 if wrong else 200)
