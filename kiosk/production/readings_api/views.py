"""The address that instruments send readings to, its document, and the page that makes their tokens."""

from typing import Any

from flask import jsonify, make_response, render_template, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import bp
from kiosk.production.readings_api.openapi import DOCUMENT
from kiosk.production.readings_api.receiving import STATUS, bind_instrument, receive_reading, vessel_codes
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence


@bp.post("/readings")
@open_to("instrument")
def readings() -> tuple[Response, int]:
    """Take one reading from an instrument."""
    here, site, at = access.device(), site_context().site, now()
    body: Any = request.get_json(silent=True, force=True)
    if here is None:
        raise NotFound()
    state = run(site_context().store, lambda session: receive_reading(session, site, here.id, body, at))
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
    name, vessels, site, at = (
        forms.text("name", 60),
        request.form.getlist("vessel"),
        site_context().site,
        now(),
    )
    try:
        token = run(site_context().store, lambda session: bind_instrument(session, site, name, vessels, at))
    except StaffError as refusal:
        return make_response(_senders_page("", sentence(refusal, words())), refusal.status)
    return make_response(_senders_page(token, ""))


def _senders_page(token: str, wrong: str) -> str:
    with site_context().store.read() as session:
        vessels = vessel_codes(session)
    return render_template("production/senders.html", token=token, wrong=wrong, vessels=vessels)
