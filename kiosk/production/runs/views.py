"""Pages of the runs with their accounts and pictures, and of the instruments with their certificates."""

from collections.abc import Mapping
from datetime import datetime, time

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.figures.strength import Certificate
from kiosk.paper.pages import pictures_pdf
from kiosk.paper.pictures import Picture
from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.forms.pages import fault_sentences, known_instruments
from kiosk.production.pictures.making import run_so_far
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.fields import day, number, optional
from kiosk.production.records.forms import typed_values
from kiosk.production.records.kinds import BATCHES, FATE, RECEIVER_CUT
from kiosk.production.runs import instruments as known
from kiosk.production.runs.account import Account, read_account, runs_newest
from kiosk.store.engine import run
from kiosk.web import forms
from kiosk.web.access import open_to, require_person
from kiosk.web.context import now, site_context, words
from kiosk.web.page import paper_asked, pdf_answer
from kiosk.words.catalogs import N_

READERS = (*WRITERS, "guide")
CHOICES = {**BATCHES, **RECEIVER_CUT.allowed, **FATE.allowed}
"""What cuts, fates and batches are called."""


@bp.get("/runs/")
@open_to(*READERS)
def runs() -> str:
    """List the newest runs."""
    with site_context().store.read() as session:
        newest = runs_newest(session, now())
    return render_template("production/runs.html", runs=newest, choices=CHOICES)


@bp.get("/runs/<int:run_id>")
@open_to(*READERS)
def run_report(run_id: int) -> str:
    """Show the balance of a run: its charge, readings, receivers and recovery."""
    account = _account(run_id)
    return render_template(
        "production/run.html",
        account=account,
        run=account.row,
        run_pictures=_run_pictures(account),
        choices=CHOICES,
    )


@bp.get("/runs/<int:run_id>/picture.pdf")
@open_to(*READERS)
def run_picture(run_id: int) -> Response:
    """Answer the run's picture on paper; `paper` a4 or letter."""
    pictures = _run_pictures(_account(run_id))
    if not pictures:
        raise NotFound()
    pdf = pictures_pdf(
        pictures[0].title, (), pictures, paper_asked(), site_context().site.name, words().language
    )
    return pdf_answer(pdf, f"run-{run_id}")


def _account(run_id: int) -> Account:
    with site_context().store.read() as session:
        return read_account(session, run_id, now())


def _run_pictures(account: Account) -> list[Picture]:
    if len(account.readings) < 2:
        return []
    site = site_context().site
    return [run_so_far(account, now(), site.zone, words(), site.units)]


CERTIFICATE = (
    day("certified_since", N_("Applies from")),
    *optional(day("certified_until", N_("Certified until"))),
    number("scale_correction", -5, 5, N_("Correction of the scale, in its own unit"), kept=""),
    number("thermometer_correction_c", -5, 5, N_("Correction of its thermometer, °C")),
)
NO_INSTRUMENT = N_("This cannot be added: the number is empty or known already.")


@bp.get("/records/instruments")
@open_to(*WRITERS)
def instruments() -> str:
    """List the instruments of the house and until when they are certified."""
    return _list()


@bp.post("/records/instruments")
@open_to(*WRITERS)
def new_instrument() -> Response:
    """Record an instrument and ask for its certificate."""
    code, kind = forms.text("code", 40), forms.text("kind")
    try:
        instrument_id = run(site_context().store, lambda session: known.add(session, code, kind))
    except (ValueError, IntegrityError):
        return make_response(_list(words().gettext(NO_INSTRUMENT), code, kind), 422)
    return redirect(url_for("production.instrument", instrument_id=instrument_id))


@bp.get("/records/instruments/<int:instrument_id>")
@open_to(*WRITERS)
def instrument(instrument_id: int) -> str:
    """Show the certificates of an instrument and ask for the next."""
    return _page(instrument_id, {}, {})


@bp.post("/records/instruments/<int:instrument_id>")
@open_to(*WRITERS)
def certify(instrument_id: int) -> Response:
    """Record what a certificate says."""
    at, site, one = now(), site_context().site, _one(instrument_id)

    def work(session: Session) -> None:
        values = typed_values(CERTIFICATE, request.form, site, words())
        since = datetime.combine(values["certified_since"], time(), site.zone)
        says = Certificate(
            values["scale_correction"], values["thermometer_correction_c"], values["certified_until"]
        )
        known.certify(session, one.id, since, says, by=require_person().id, at=at)

    try:
        run(site_context().store, work)
    except RecordFaults as faults:
        return make_response(_page(instrument_id, request.form, fault_sentences(faults)), faults.status)
    return redirect(url_for("production.instruments"))


def _list(wrong: str = "", code: str = "", kind: str = "") -> str:
    with site_context().store.read() as session:
        every = known_instruments(session)
    return render_template(
        "production/instruments.html", wrong=wrong, typed={"code": code, "kind": kind}, instruments=every
    )


def _page(instrument_id: int, typed: Mapping[str, str], wrong: Mapping[str, str]) -> str:
    here = {"instrument": _one(instrument_id), "fields": CERTIFICATE, "typed": typed, "wrong": wrong}
    return render_template("production/instrument.html", **here)


def _one(instrument_id: int) -> known.KnownInstrument:
    with site_context().store.read() as session:
        every = known.read_instruments(session).every
    for one in every:
        if one.id == instrument_id:
            return one
    raise NotFound()
