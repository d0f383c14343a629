"""The address that instruments send readings to, its OpenAPI document, and the page that makes tokens."""

from typing import Any

from flask import jsonify, make_response, render_template, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import bp
from kiosk.production.readings_api.receiving import (
    HELD_BACK,
    ID,
    READINGS,
    RECORDED,
    SAME,
    STATUS,
    bind_instrument,
    receive_reading,
    vessel_codes,
)
from kiosk.production.records.fields import CODE, Field, Type
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence

_CODE = {"type": "string", "pattern": f"^{CODE.pattern}$"}
_BASE = {
    "id": {"type": "string", "pattern": f"^{ID.pattern}$", "description": "Made by the instrument."},
    "vessel": {**_CODE, "description": "Code of still or tank."},
    "at": {"type": "string", "format": "date-time", "description": "When it was read, with its offset."},
}


def _schema(field: Field) -> dict[str, Any]:
    described = {"description": field.label}
    if field.type is Type.NUMBER:
        return {"type": "number", "minimum": field.low, "maximum": field.high, **described}
    if field.type is Type.CHOICE:
        return {"enum": [*field.allowed], **described}
    return {
        **_CODE,
        "description": "Number of an instrument of the house; its certificate corrects the reading.",
    }


def _reading(name: str) -> dict[str, Any]:
    fields = READINGS[name].fields
    properties = {**_BASE, "kind": {"const": name}, **{one: _schema(field) for one, field in fields.items()}}
    return _object(properties, *(one for one, field in fields.items() if not field.needed))


def _object(properties: dict[str, Any], *optional: str) -> dict[str, Any]:
    needed = [name for name in properties if name not in optional]
    return {"type": "object", "properties": properties, "required": needed, "additionalProperties": False}


def _answer(description: str, schema: str) -> dict[str, Any]:
    content = {"application/json": {"schema": {"$ref": f"#/components/schemas/{schema}"}}}
    return {"description": description, "content": content}


_SENT = {"$ref": "#/components/schemas/Reading"}
_ANSWERS = {
    "201": _answer("Recorded.", "Taken"),
    "200": _answer("The same reading was sent before.", "Taken"),
    "202": _answer("It can hardly be true: held until a person settles it.", "Taken"),
    "400": _answer("Not a reading: a field is missing, not known, or of the wrong kind.", "Refused"),
    "401": _answer("No token, or one that is not known or was revoked.", "Refused"),
    "403": _answer("The vessel is not one of this instrument's.", "Refused"),
    "409": _answer("Another reading stands under this id.", "Refused"),
    "422": _answer("It cannot be recorded, or nothing was under way in the vessel.", "Refused"),
    "429": _answer("Too many in a short time, of this instrument or of wrong tokens.", "Refused"),
}
_REFUSED = {
    **{name: {"type": "string"} for name in ("error", "sentence", "field")},
    "seconds": {"type": "integer", "description": "With 429: after how long to try again."},
}

DOCUMENT: dict[str, Any] = {
    "openapi": "3.1.0",
    "info": {"title": "Readings of instruments", "version": "1"},
    "paths": {
        "/staff/readings": {
            "post": {
                "operationId": "sendReading",
                "summary": "Send one reading; sending it again does no harm.",
                "security": [{"token": []}],
                "requestBody": {"required": True, "content": {"application/json": {"schema": _SENT}}},
                "responses": _ANSWERS,
            }
        }
    },
    "components": {
        "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        "schemas": {
            "Reading": {"oneOf": [_reading(name) for name in READINGS]},
            "Taken": _object({"id": {"type": "string"}, "state": {"enum": [RECORDED, SAME, HELD_BACK]}}),
            "Refused": _object(_REFUSED, "field", "seconds"),
        },
    },
}


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
