"""The document of the readings API (OpenAPI 3.1), made from the fields of the records."""

from typing import Any

from kiosk.production.readings_api.receiving import HELD_BACK, ID, READINGS, RECORDED, SAME
from kiosk.production.records.fields import CODE, Field, Type

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
}
_REFUSED = {"error": {"type": "string"}, "sentence": {"type": "string"}, "field": {"type": "string"}}

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
            "Refused": _object(_REFUSED, "field"),
        },
    },
}
