"""The document of the address that instruments send readings to (OpenAPI 3.1)."""

from __future__ import annotations

from typing import Any

from kiosk.production.importing.kinds import CUTS
from kiosk.production.runs.instruments import SCALES
from kiosk.production.sending.receiving import HELD_BACK, RECORDED, SAME

NUMBER = {"type": "number"}
CODE = {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$"}
BASE = {
    "id": {"type": "string", "pattern": "^[A-Za-z0-9._:-]{1,60}$", "description": "Made by the instrument."},
    "vessel": {**CODE, "description": "Code of still or tank."},
    "at": {"type": "string", "format": "date-time", "description": "When it was read, with its offset."},
}
STILL = {
    **BASE,
    "kind": {"const": "still"},
    "cut": {"enum": list(CUTS), "description": "Where the spirit runs from this reading on."},
    "collected_l": {**NUMBER, "minimum": 0, "maximum": 100_000},
    "collected_temperature_c": {**NUMBER, "minimum": -20, "maximum": 40},
    "scale": {"enum": [*SCALES]},
    "instrument": {
        **CODE,
        "description": "Number of the instrument in the house; what its certificate says is added.",
    },
    "reading": {**NUMBER, "minimum": 0, "maximum": 200},
    "temperature_c": {**NUMBER, "minimum": -20, "maximum": 40},
}
WASH = {
    **BASE,
    "kind": {"const": "wash"},
    "measure": {"enum": ["gravity", "brix", "ph", "temperature"]},
    "value": {**NUMBER, "minimum": -5, "maximum": 100},
    "temperature_c": {**NUMBER, "minimum": 0, "maximum": 60},
}


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
            "Reading": {"oneOf": [_object(STILL, "instrument"), _object(WASH, "temperature_c")]},
            "Taken": _object({"id": {"type": "string"}, "state": {"enum": [RECORDED, SAME, HELD_BACK]}}),
            "Refused": _object(_REFUSED, "field"),
        },
    },
}
