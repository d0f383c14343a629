"""A record: what it says and said, and the form that puts it right."""

from __future__ import annotations

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.entering import correcting, withdrawing
from kiosk.production.entering.labels import TABLES, TITLES
from kiosk.production.entering.reading import EntryFaults, as_written
from kiosk.production.entering.showing import faults_told, known_instruments, me, names, shown
from kiosk.production.importing.columns import Column
from kiosk.store.engine import run
from kiosk.store.errors import InUse, Stale
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.catalogs import N_

FIRST = N_("{name} changed this record before you, at {at}. Compare, and save again if it still holds.")
SOMEBODY = N_("Somebody")
WHY = N_("Say why, in a few words.")


@bp.get("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def record(table: str, row_id: int) -> str:
    """Show a record, what it said before, and the form that puts it right."""
    return _page(table, row_id, None, {})


@bp.post("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def correct(table: str, row_id: int) -> Response:
    """Put a record right."""
    columns, at, site = _columns(table), now(), site_context().site
    checked, why = bool(request.form.get("checked")), forms.text("why")

    def work(session: Session) -> None:
        cells = as_written(columns, request.form, words())
        revision = forms.whole("revision") or 0
        who = correcting.Correction(me(), at, why, checked)
        correcting.correct(session, site, table, row_id, revision, cells, who)

    try:
        if not why:
            wrong = {"why": words().gettext(WHY)}
            return make_response(_page(table, row_id, request.form, wrong), 422)
        run(site_context().store, work)
    except EntryFaults as faults:
        return make_response(_page(table, row_id, request.form, faults_told(faults)), faults.status)
    except Stale as stale:
        return make_response(_page(table, row_id, request.form, {"form": _first(stale)}), stale.status)
    return redirect(url_for("production.record", table=table, row_id=row_id))


@bp.get("/records/<table>/<int:row_id>/withdraw")
@open_to(*WRITERS)
def ask_withdraw(table: str, row_id: int) -> str:
    """Ask why a record is taken back, or name what rests on it."""
    return _withdraw_page(table, row_id, "")


@bp.post("/records/<table>/<int:row_id>/withdraw")
@open_to(*WRITERS)
def withdraw(table: str, row_id: int) -> Response:
    """Take a record back."""
    _columns(table)
    revision, who = forms.whole("revision") or 0, correcting.Correction(me(), now(), forms.text("why"))
    if not who.why:
        return make_response(_withdraw_page(table, row_id, words().gettext(WHY)), 422)
    try:
        run(site_context().store, lambda session: withdrawing.withdraw(session, table, row_id, revision, who))
    except InUse as used:
        return make_response(_withdraw_page(table, row_id, ""), used.status)
    except Stale as stale:
        return make_response(_withdraw_page(table, row_id, _first(stale)), stale.status)
    return redirect(url_for("production.record", table=table, row_id=row_id))


def _withdraw_page(table: str, row_id: int, wrong: str) -> str:
    columns = _columns(table)
    with site_context().store.read() as session:
        versions = correcting.versions(session, site_context().site, table, row_id)
        resting = withdrawing.resting_on(session, table, row_id)
    here = {"table": table, "titles": TITLES, "columns": columns, "resting": resting, "wrong": wrong}
    one = versions[0]
    return render_template(
        "production/withdraw.html", one=one, row_id=row_id, tables=TABLES, **here, **names(())
    )


def _columns(table: str) -> tuple[Column, ...]:
    if table not in correcting.BY_TABLE:
        raise NotFound()
    return correcting.columns_of(table)


def _first(stale: Stale) -> str:
    with site_context().store.read() as session:
        name = correcting.name_of(session, stale.by) or words().gettext(SOMEBODY)
    at = formats.moment(stale.at, site_context().site.zone, words(), now())
    return words().gettext(FIRST, name=name, at=at)


def _page(table: str, row_id: int, typed: Mapping[str, str] | None, wrong: Mapping[str, str]) -> str:
    columns = _columns(table)
    with site_context().store.read() as session:
        versions = correcting.versions(session, site_context().site, table, row_id)
        known = known_instruments(session)
    here = {"table": table, "tables": TABLES, "columns": columns, "versions": versions, "wrong": wrong}
    typed = typed or shown(columns, versions[0].cells)
    return render_template("production/record.html", typed=typed, row_id=row_id, **here, **names(known))
