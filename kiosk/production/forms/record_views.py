"""A record: its history, the form that corrects it, and the page that voids it."""

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.forms import corrections
from kiosk.production.forms.pages import fault_sentences, input_texts, known_instruments, offers_of
from kiosk.production.forms.suggestions import recorded_codes
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.fields import Field
from kiosk.production.records.forms import typed_values
from kiosk.production.records.kinds import BY_NAME, LISTED
from kiosk.store.engine import run
from kiosk.store.errors import InUse, Stale
from kiosk.web import forms
from kiosk.web.access import open_to, require_person
from kiosk.web.context import now, site_context, words
from kiosk.words import formats
from kiosk.words.catalogs import N_

FIRST = N_("{name} changed this record before you, at {at}. Compare, and save again if it still holds.")
SOMEBODY = N_("A person")
WHY = N_("Say why, in a few words.")


@bp.get("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def record(table: str, row_id: int) -> str:
    """Show a record, its history, and the form that corrects it."""
    return _page(table, row_id, None, {})


@bp.post("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def correct(table: str, row_id: int) -> Response:
    """Correct a record."""
    fields, site, revision = _fields(table), site_context().site, forms.whole("revision") or 0
    who = corrections.Correction(
        require_person().id, now(), forms.text("why"), bool(request.form.get("checked"))
    )

    def work(session: Session) -> None:
        shown = corrections.versions(session, table, row_id)[0].values
        values = typed_values(fields, request.form, site, words(), shown)
        corrections.correct(session, site, table, row_id, revision, values, who)

    if not who.why:
        return make_response(_page(table, row_id, request.form, {"why": words().gettext(WHY)}), 422)
    try:
        run(site_context().store, work)
    except RecordFaults as faults:
        return make_response(_page(table, row_id, request.form, fault_sentences(faults)), faults.status)
    except Stale as stale:
        return make_response(_page(table, row_id, request.form, {"form": _first(stale)}), stale.status)
    return redirect(url_for("production.record", table=table, row_id=row_id))


@bp.get("/records/<table>/<int:row_id>/void")
@open_to(*WRITERS)
def ask_void(table: str, row_id: int) -> str:
    """Ask why a record is voided, or name what refers to it."""
    return _void_page(table, row_id, "")


@bp.post("/records/<table>/<int:row_id>/void")
@open_to(*WRITERS)
def void(table: str, row_id: int) -> Response:
    """Void a record."""
    _fields(table)
    revision = forms.whole("revision") or 0
    who = corrections.Correction(require_person().id, now(), forms.text("why"))
    if not who.why:
        return make_response(_void_page(table, row_id, words().gettext(WHY)), 422)
    try:
        run(site_context().store, lambda session: corrections.void(session, table, row_id, revision, who))
    except InUse as used:
        return make_response(_void_page(table, row_id, "", who.why), used.status)
    except Stale as stale:
        return make_response(_void_page(table, row_id, _first(stale), who.why), stale.status)
    return redirect(url_for("production.record", table=table, row_id=row_id))


def _void_page(table: str, row_id: int, wrong: str, typed: str = "") -> str:
    fields = _fields(table)
    with site_context().store.read() as session:
        one = corrections.versions(session, table, row_id)[0]
        dependents = corrections.dependents(session, table, row_id)
    here = {"table": table, "kinds": BY_NAME, "fields": fields, "dependents": dependents, "wrong": wrong}
    return render_template("production/void.html", one=one, row_id=row_id, typed=typed, **here)


def _fields(table: str) -> tuple[Field, ...]:
    if table not in LISTED:
        raise NotFound()
    return corrections.fields_of(table)


def _first(stale: Stale) -> str:
    with site_context().store.read() as session:
        name = corrections.staff_name(session, stale.by) or words().gettext(SOMEBODY)
    at = formats.moment(stale.at, site_context().site.zone, words(), now())
    return words().gettext(FIRST, name=name, at=at)


def _page(table: str, row_id: int, typed: Mapping[str, str] | None, wrong: Mapping[str, str]) -> str:
    fields = _fields(table)
    with site_context().store.read() as session:
        versions = corrections.versions(session, table, row_id)
        first = corrections.first_entry(session, table, row_id)
        known = known_instruments(session)
        offers = offers_of(session, recorded_codes(session, fields))
    here = {"kind": LISTED[table], "fields": fields, "versions": versions, "wrong": wrong, "row_id": row_id}
    here |= {"first": first, "offers": offers}
    typed = typed or input_texts(fields, versions[0].values)
    return render_template("production/record.html", typed=typed, **here, instruments=known)
