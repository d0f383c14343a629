"""Pages of those who write records: the forms, what was held back, and records put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import Blueprint, jsonify, make_response, redirect, render_template, request, url_for
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.entering import correcting, offering
from kiosk.production.entering import held as held_back
from kiosk.production.entering.entering import enter
from kiosk.production.entering.forms import FORMS, SCALES, Form
from kiosk.production.entering.labels import CHOICES, LABELS, TABLES
from kiosk.production.entering.reading import EntryFaults, as_written, told
from kiosk.production.importing.columns import Column
from kiosk.production.sending.binding import bind, vessel_codes
from kiosk.production.sending.openapi import DOCUMENT
from kiosk.production.sending.receiving import STATUS, receive
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.store.errors import Stale
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.house import house, now, words
from kiosk.words import dates
from kiosk.words.errors import sentence
from kiosk.words.marker import N_
from kiosk.words.numbers import plain_number

bp = Blueprint("production", __name__, template_folder="templates", url_prefix="/staff")

WRITERS = ("production", "manager")
LAST_INSTRUMENT = "kiosk_instrument"
YEAR_S = 31_536_000
FIRST = N_("{name} changed this record before you, at {at}. Compare, and save again if it still holds.")
SOMEBODY = N_("Somebody")
NO_INSTRUMENT = N_("This cannot be added: the number is empty or known already, or the day is none.")


@bp.get("/records/")
@open_to(*WRITERS)
def records() -> str:
    """Show the forms, what waits to be settled and the newest records."""
    with house().store.read() as session:
        waits = len(held_back.waiting(session))
        newest = {table: correcting.latest(session, house().site, table) for table in TABLES}
    done = forms.local_path(request.args.get("done"), "")
    here = {"forms": FORMS.values(), "waits": waits, "newest": newest, "tables": TABLES, "done": done}
    return render_template("production/records.html", choices=CHOICES, **here)


@bp.get("/records/new/<name>")
@open_to(*WRITERS)
def new(name: str) -> str:
    """Show an empty form, or one filled with what was held back."""
    form, held_id = _form(name), request.args.get("held", type=int)
    typed = {"instrument": request.cookies.get(LAST_INSTRUMENT, "")}
    if held_id:
        typed |= _shown(form.fields, _held(held_id).cells)
    return _form_page(form, typed, {}, held_id)


@bp.post("/records/new/<name>")
@open_to(*WRITERS)
def write(name: str) -> Response:
    """Record what was typed, or show it again with what is wrong."""
    form, held_id = _form(name), request.args.get("held", type=int)
    at, site = now(), house().site

    def work(session: Session) -> int | None:
        if held_id:
            outcome = held_back.CORRECTED
            held_back.settle(session, held_id, forms.whole("revision") or 0, outcome, by=_me(), at=at)
        cells = as_written(form.fields, request.form, words())
        return enter(session, site, form, cells, by=_me(), at=at).held_id

    try:
        kept = run(house().store, work)
    except EntryFaults as faults:
        return make_response(_form_page(form, request.form, _told(faults), held_id), faults.status)
    where = url_for("production.held") if kept else url_for("production.records", done=request.path)
    answer = redirect(where)
    if request.form.get("instrument"):
        forms.set_cookie(answer, LAST_INSTRUMENT, forms.text("instrument", 40), YEAR_S)
    return answer


@bp.get("/records/held")
@open_to(*WRITERS)
def held() -> str:
    """List what was held back."""
    return _held_page("")


@bp.post("/records/held/<int:held_id>")
@open_to(*WRITERS)
def settle(held_id: int) -> Response:
    """Record an entry as it stands, or drop it."""
    one, revision, site, at = _held(held_id), forms.whole("revision") or 0, house().site, now()

    def work(session: Session) -> None:
        if request.form.get("outcome") == held_back.CONFIRMED:
            held_back.confirm(session, site, one, revision, by=_me(), at=at)
        else:
            held_back.settle(session, one.id, revision, held_back.DROPPED, by=_me(), at=at)

    try:
        run(house().store, work)
    except EntryFaults as faults:
        return make_response(_held_page("; ".join(_told(faults).values())), faults.status)
    return redirect(url_for("production.held"))


@bp.get("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def record(table: str, row_id: int) -> str:
    """Show a record, what it said before, and the form that puts it right."""
    return _record_page(table, row_id, None, {})


@bp.post("/records/<table>/<int:row_id>")
@open_to(*WRITERS)
def correct(table: str, row_id: int) -> Response:
    """Put a record right."""
    columns, at, site = _columns(table), now(), house().site
    checked, why = bool(request.form.get("checked")), forms.text("why")

    def work(session: Session) -> None:
        cells = as_written(columns, request.form, words())
        revision = forms.whole("revision") or 0
        who = correcting.Correction(_me(), at, why, checked)
        correcting.correct(session, site, table, row_id, revision, cells, who)

    try:
        if not why:
            return make_response(_record_page(table, row_id, request.form, {"why": _needed()}), 422)
        run(house().store, work)
    except EntryFaults as faults:
        wrong = _told(faults)
        return make_response(_record_page(table, row_id, request.form, wrong), faults.status)
    except Stale as stale:
        return make_response(_record_page(table, row_id, request.form, {"form": _first(stale)}), stale.status)
    return redirect(url_for("production.record", table=table, row_id=row_id))


@bp.get("/records/instruments")
@open_to(*WRITERS)
def instruments() -> str:
    """List the instruments of the house and until when they are certified."""
    return _instruments_page("")


def _instruments_page(wrong: str) -> str:
    with house().store.read() as session:
        every = offering.instruments(session, now().date())
    return render_template(
        "production/instruments.html", instruments=every, scales=SCALES, choices=CHOICES, wrong=wrong
    )


@bp.post("/records/instruments")
@open_to(*WRITERS)
def new_instrument() -> Response:
    """Record an instrument."""
    code, kind, until = forms.text("code", 40), forms.text("kind"), forms.text("certified_until")
    try:
        run(house().store, lambda session: offering.add_instrument(session, code, kind, until))
    except (ValueError, IntegrityError):
        return make_response(_instruments_page(words().gettext(NO_INSTRUMENT)), 422)
    return redirect(url_for("production.instruments"))


def _form(name: str) -> Form:
    if name not in FORMS:
        raise NotFound()
    return FORMS[name]


def _columns(table: str) -> tuple[Column, ...]:
    if table not in correcting.BY_TABLE:
        raise NotFound()
    return correcting.BY_TABLE[table].columns


def _me() -> int | None:
    somebody = access.person()
    return somebody.id if somebody else None


def _held(held_id: int) -> held_back.Waiting:
    with house().store.read() as session:
        found = held_back.waiting(session, held_id)
    if not found:
        raise NotFound()
    return found[0]


def _needed() -> str:
    return words().gettext("Say why, in a few words.")


def _told(faults: EntryFaults) -> dict[str, str]:
    return {fault.column or "form": told(fault.message, fault.facts, words()) for fault in faults.faults}


def _first(stale: Stale) -> str:
    with house().store.read() as session:
        name = correcting.name_of(session, stale.by) or words().gettext(SOMEBODY)
    at = dates.moment(stale.at, house().site.zone, words(), now())
    return words().gettext(FIRST, name=name, at=at)


def _shown(columns: Sequence[Column], cells: Mapping[str, str]) -> dict[str, str]:
    """Return cells as the reader types them: their own decimal mark, the browser's own time."""
    shown = {}
    for column in columns:
        text = cells.get(column.name, "")
        if text and column.sort == "number":
            text = plain_number(float(text), words())
        shown[column.name] = text.replace(" ", "T") if column.sort == "moment" else text
    return shown


def _form_page(form: Form, typed: Mapping[str, str], wrong: Mapping[str, str], held_id: int | None) -> str:
    with house().store.read() as session:
        offers = offering.offers(session, form.fields, form.name)
        known = offering.instruments(session, now().date())
    offers["product"] = list(house().site.products)
    revision = _held(held_id).revision if held_id else 0
    here = {"form": form, "typed": typed, "wrong": wrong, "offers": offers, "revision": revision}
    return render_template("production/form.html", **here, **_names(known))


def _names(known: Sequence[tuple[str, str, bool]]) -> dict[str, object]:
    return {"labels": LABELS, "choices": CHOICES, "instruments": known, "scales": SCALES, "clock": now()}


def _held_page(wrong: str) -> str:
    with house().store.read() as session:
        waiting = held_back.waiting(session)
    return render_template("production/held.html", waiting=waiting, told=_reason, wrong=wrong, **_names(()))


def _reason(reason: Mapping[str, object]) -> str:
    facts = reason["facts"]
    return told(str(reason["message"]), facts if isinstance(facts, Mapping) else {}, words())


def _record_page(table: str, row_id: int, typed: Mapping[str, str] | None, wrong: Mapping[str, str]) -> str:
    columns = _columns(table)
    with house().store.read() as session:
        versions = correcting.versions(session, house().site, table, row_id)
    here = {"table": table, "tables": TABLES, "columns": columns, "versions": versions, "wrong": wrong}
    shown = typed or _shown(columns, versions[0].cells)
    return render_template("production/record.html", typed=shown, row_id=row_id, **here, **_names(()))


@bp.post("/readings")
@open_to("instrument")
def readings() -> tuple[Response, int]:
    """Take one reading from an instrument."""
    here, site, at = access.device(), house().site, now()
    body: Any = request.get_json(silent=True, force=True)
    if here is None:
        raise NotFound()
    state = run(house().store, lambda session: receive(session, site, here.id, body, at))
    return jsonify(id=body["id"], state=state), STATUS[state]


@bp.get("/readings/openapi.json")
@open_to("stranger", "device")
def readings_document() -> Response:
    """Say what instruments may send and what they are answered."""
    return jsonify(DOCUMENT)


@bp.get("/readings/instruments")
@open_to("manager")
def senders() -> str:
    """List the vessels that an instrument can be bound to."""
    return _senders_page("", "")


@bp.post("/readings/instruments")
@open_to("manager")
def new_sender() -> Response:
    """Record an instrument that sends readings and show its token once."""
    name, vessels, site, at = forms.text("name", 60), request.form.getlist("vessel"), house().site, now()
    try:
        token = run(house().store, lambda session: bind(session, site, name, vessels, at))
    except StaffError as refusal:
        return make_response(_senders_page("", sentence(refusal, words())), refusal.status)
    return make_response(_senders_page(token, ""))


def _senders_page(token: str, wrong: str) -> str:
    with house().store.read() as session:
        vessels = vessel_codes(session)
    return render_template("production/senders.html", token=token, wrong=wrong, vessels=vessels)
