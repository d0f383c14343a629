"""The page of the records and the forms that write them."""

from __future__ import annotations

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.entering import correcting, offering
from kiosk.production.entering import held as held_back
from kiosk.production.entering.asking import Form
from kiosk.production.entering.entering import enter
from kiosk.production.entering.forms import FORMS, GROUPS
from kiosk.production.entering.held import Waiting
from kiosk.production.entering.held_views import found
from kiosk.production.entering.labels import CHOICES, TABLES
from kiosk.production.entering.reading import EntryFaults, as_written
from kiosk.production.entering.showing import (
    LAST_INSTRUMENT,
    faults_told,
    known_instruments,
    me,
    names,
    shown,
)
from kiosk.store.engine import run
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words

YEAR_S = 31_536_000


@bp.get("/records/")
@open_to(*WRITERS)
def records() -> str:
    """Show the forms, what waits to be settled and the newest records."""
    with site_context().store.read() as session:
        waits = len(held_back.waiting(session))
        newest = {table: correcting.latest(session, site_context().site, table) for table in TABLES}
    done = forms.local_path(request.args.get("done"), "")
    here = {"groups": GROUPS, "waits": waits, "newest": newest, "tables": TABLES, "done": done}
    return render_template("production/records.html", choices=CHOICES, **here)


@bp.get("/records/new/<name>")
@open_to(*WRITERS)
def new(name: str) -> str:
    """Show an empty form, or one filled with what was held back."""
    form, waits = _form(name)
    typed = {"instrument": request.cookies.get(LAST_INSTRUMENT, "")}
    if waits:
        typed |= shown(form.fields, waits.cells)
    return _page(form, typed, {}, waits)


@bp.post("/records/new/<name>")
@open_to(*WRITERS)
def write(name: str) -> Response:
    """Record what was typed, or show it again with what is wrong."""
    form, waits = _form(name)
    at, site = now(), site_context().site

    def work(session: Session) -> bool:
        cells = as_written(form.fields, request.form, words())
        if waits:
            revision = forms.whole("revision") or 0
            return held_back.correct(session, site, waits, revision, cells, by=me(), at=at)
        return enter(session, site, form, cells, by=me(), at=at).held_id is None

    try:
        recorded = run(site_context().store, work)
    except EntryFaults as faults:
        return make_response(_page(form, request.form, faults_told(faults), waits), faults.status)
    return _written(recorded)


def _written(recorded: bool) -> Response:
    where = url_for("production.records", done=request.path) if recorded else url_for("production.held")
    answer = redirect(where)
    if request.form.get("instrument"):
        forms.set_cookie(answer, LAST_INSTRUMENT, forms.text("instrument", 40), YEAR_S)
    return answer


def _form(name: str) -> tuple[Form, Waiting | None]:
    """Return the form of this name, and the held entry that it is to put right, if any."""
    held_id = request.args.get("held", type=int)
    waits = found(held_id) if held_id else None
    form = waits.form if waits else FORMS.get(name)
    if form is None or form.name != name:
        raise NotFound()
    return form, waits


def _page(form: Form, typed: Mapping[str, str], wrong: Mapping[str, str], waits: Waiting | None) -> str:
    with site_context().store.read() as session:
        offers = offering.offers(session, form.fields, form.name)
        known = known_instruments(session)
    offers["product"] = list(site_context().site.products)
    revision = waits.revision if waits else 0
    here = {"form": form, "typed": typed, "wrong": wrong, "offers": offers, "revision": revision}
    return render_template("production/form.html", **here, **names(known))
