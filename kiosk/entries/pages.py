"""The address that tablets send their entries to, and what forms of other pages send the same way."""

from collections.abc import Iterable, Sequence

from flask import Blueprint, jsonify, make_response, request
from werkzeug.exceptions import BadRequest, NotFound
from werkzeug.wrappers import Response

from kiosk.entries.entries import KEY, Answer, EntryOrigin, RawEntry, sentence
from kiosk.entries.errors import Malformed, NotRecorded, UnknownSender
from kiosk.entries.intake import SenderCredentials, take_in_entries
from kiosk.web import access, forms, language
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words


def take_in(rows: Sequence[RawEntry]) -> list[Answer]:
    """Record the entries of this request and return their answers. Raises NotFound for an unknown sender.

    The rest of the request is in the languages of the person signed in on the device.
    """
    here = site_context()
    sender = SenderCredentials(here.site, *access.cookie_hashes(), now())
    try:
        return take_in_entries(here.store, here.site, here.entry_kinds, sender, rows, now())
    except UnknownSender:
        raise NotFound() from None
    finally:
        language.speak_to(sender.languages)


def post_entries(*rows: RawEntry) -> list[Answer]:
    """Record a form's entries and return an answer for each.

    Raises NotRecorded, in the reader's language, where one is rejected or held.
    """
    answers = take_in(rows)
    for answer in answers:
        if answer.outcome in ("rejected", "held", "keep"):
            raise NotRecorded(answer.status, sentence(answer, site_context().site, words()))
    return answers


def form_origin() -> EntryOrigin:
    """Return the origin of an entry by form: its key, the device, and the person signed in by PIN.

    Raises Malformed for a key that cannot be one.
    """
    key, person, device = forms.text("key"), access.require_person(), access.require_device()
    if not KEY.fullmatch(key):
        raise Malformed(part="key")
    return EntryOrigin(key, person.id, device.id, checked=True, here=True, roles=person.roles)


def demand_granted(answers: Iterable[Answer]) -> None:
    """Raise NotRecorded, with its reasons, for an answer that is a refusal."""
    for answer in answers:
        if answer.outcome == "refused":
            raise NotRecorded(409, sentence(answer, site_context().site, words()))


bp = Blueprint("entries", __name__, template_folder="templates", url_prefix="/staff")

MOST_ROWS = 500


@bp.post("/intake")
@open_to("sender")
def intake() -> Response:
    """Record a list of entries and answer each. A device that was revoked since may send its queue too."""
    sent = request.get_json()
    if not isinstance(sent, list) or len(sent) > MOST_ROWS or not all(isinstance(row, dict) for row in sent):
        raise BadRequest()
    answers = take_in(sent)
    conflict = bool(answers) and all(answer.status == 409 for answer in answers)
    body = {"answers": [_answer_json(answer) for answer in answers]}
    return make_response(jsonify(body), 409 if conflict else 200)


def _answer_json(answer: Answer) -> dict[str, object]:
    return {
        "key": answer.key,
        "outcome": answer.outcome,
        "status": answer.status,
        "error": answer.error,
        "reasons": list(answer.reasons),
        "guest": answer.guest_id,
        "sentence": sentence(answer, site_context().site, words()),
    }
