"""The address that tablets send their entries to, and what forms of other pages send the same way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flask import Blueprint, jsonify, make_response, request
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.exceptions import BadRequest, NotFound
from werkzeug.wrappers import Response

from kiosk.entries.entries import KEY, Answer, RawEntry, sentence
from kiosk.entries.errors import NotRecorded, UnknownSender
from kiosk.entries.intake import SenderCredentials, take_in_entries
from kiosk.store.ledgers import keys_within
from kiosk.store.tables.tasting import pours, refusals
from kiosk.web import access, forms, language
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words


def take_in(rows: Sequence[RawEntry]) -> list[Answer]:
    """Record entries that this request sends and return what became of each; 404 for an unknown sender.

    From then on the request speaks the languages of whoever is signed in on the device.
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
    """Record a form's entries and return what became of each.

    Raises NotRecorded, in the reader's words, for one that was not recorded.
    """
    answers = take_in(rows)
    for answer in answers:
        if answer.outcome in ("rejected", "held"):
            raise NotRecorded(answer.status, sentence(answer, site_context().site, words()))
    return answers


def demand_granted(answers: Iterable[Answer]) -> None:
    """Raise NotRecorded with the reason where something asked for was refused."""
    for answer in answers:
        if answer.outcome == "refused":
            raise NotRecorded(409, sentence(answer, site_context().site, words()))


def chosen_glass() -> dict[str, object]:
    """Return product and volume of the glass that a form's button stands for; what cannot be read is None."""
    product, _, volume_ul = forms.text("glass").partition(" ")
    return {"product": product or None, "volume_ul": forms.digits(volume_ul)}


def stored_answer(session: Session, key: str) -> Answer | None:
    """Return the answer that an asked or recorded pour got, or None for any other key.

    Of a seat of which some glasses were refused it is that refusal, with every reason.
    """
    if not KEY.fullmatch(key):
        return None
    r = refusals.c
    of_act = select(r.reasons, r.guest_id, r.at).where(r.key.between(*keys_within(key))).order_by(r.key)
    refused = session.execute(of_act).all()
    if refused:
        first, against = refused[0], dict.fromkeys(reason for row in refused for reason in row.reasons)
        return Answer(key, "refused", reasons=tuple(against), guest_id=first.guest_id, at=first.at)
    poured = session.execute(select(pours.c.guest_id, pours.c.at).where(pours.c.key == key)).one_or_none()
    return Answer(key, "poured", guest_id=poured.guest_id, at=poured.at) if poured else None


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
