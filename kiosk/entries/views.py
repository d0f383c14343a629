"""The address that a tablet sends its entries to."""

from __future__ import annotations

from flask import Blueprint, jsonify, make_response, request
from werkzeug.exceptions import BadRequest
from werkzeug.wrappers import Response

from kiosk.entries.entries import Answer, sentence
from kiosk.entries.pages import take_in
from kiosk.web.access import open_to
from kiosk.web.context import site_context, words

bp = Blueprint("entries", __name__, url_prefix="/staff")

MOST_ROWS = 500


@bp.post("/intake")
@open_to("sender")
def intake() -> Response:
    """Take a list of entries. A device that was revoked since may still hand in what it holds."""
    sent = request.get_json()
    if not isinstance(sent, list) or len(sent) > MOST_ROWS or not all(isinstance(row, dict) for row in sent):
        raise BadRequest()
    answers = take_in(sent)
    conflict = bool(answers) and all(answer.status == 409 for answer in answers)
    return make_response(
        jsonify({"answers": [_plain(answer) for answer in answers]}), 409 if conflict else 200
    )


def _plain(answer: Answer) -> dict[str, object]:
    return {
        "key": answer.key,
        "outcome": answer.outcome,
        "status": answer.status,
        "error": answer.error,
        "reasons": list(answer.reasons),
        "guest": answer.guest_id,
        "sentence": sentence(answer, site_context().site, words()),
    }
