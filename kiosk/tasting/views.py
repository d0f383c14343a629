"""The tasting room over HTTP: the room page, its forms, and the one door for taps."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from flask import jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import BadRequest
from werkzeug.wrappers import Response

from kiosk.staff import signing_in
from kiosk.store.keys import new_key
from kiosk.tasting import (
    bottle_views,
    closing_views,
    flight_views,
    inspection_views,
    mat_views,
    posting,
    release_views,
    room_views,
    rule_views,
    showing,
)
from kiosk.tasting.answers import told
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.entries import Answer
from kiosk.tasting.intake import take
from kiosk.tasting.low import low
from kiosk.tasting.room import RoomView, room
from kiosk.tasting.rounds import next_round, round_told, shown_round
from kiosk.tasting.telling import running_low
from kiosk.tasting.tiles import Tile
from kiosk.tasting.turning import ABOUT
from kiosk.web import access, forms, language
from kiosk.web.access import open_to
from kiosk.web.house import house, now, words

__all__ = [
    "bottle_views",
    "bp",
    "closing_views",
    "flight_views",
    "inspection_views",
    "mat_views",
    "release_views",
    "room_views",
    "rule_views",
]

MOST_ROWS = 500


@bp.post("/intake")
@open_to("sender")
def intake() -> Response:
    """Take a list of ledger rows. A device shut out since may still hand in what it holds."""
    sent = request.get_json()
    if not isinstance(sent, list) or len(sent) > MOST_ROWS or not all(isinstance(row, dict) for row in sent):
        raise BadRequest()
    sender = posting.sender()
    try:
        answers = take(house().store, house().site, sender, sent, now())
    finally:
        language.speak_to(sender.languages)
    conflict = bool(answers) and all(answer.status == 409 for answer in answers)
    return make_response(
        jsonify({"answers": [_plain(answer) for answer in answers]}), 409 if conflict else 200
    )


@bp.get("/tours/<int:tour_id>/tasting")
@open_to("guide", "bar", "manager")
def tasting(tour_id: int) -> str:
    """Show the room of a tour."""
    with house().store.read() as session:
        view = room(session, house().site, tour_id, now(), _me())
        answer = told(session, request.args.get("answer", ""))
        short = low(session, house().site, view)
        told_round = round_told(session, request.args.get("round", ""))
    return render_template(
        "tasting/room.html",
        low=[running_low(one, house().site, words()) for one in short],
        tiles=[_shown(tile) for tile in view.tiles],
        around=_around(),
        answer=answer,
        answer_sentence=showing.sentence(answer, house().site, words()) if answer else "",
        **_shared(view, told_round),
    )


@bp.get("/tours/<int:tour_id>/tasting/<int:guest_id>")
@open_to("guide", "bar", "manager")
def tile(tour_id: int, guest_id: int) -> str:
    """Show one guest's tile, for the page to replace after a tap."""
    with house().store.read() as session:
        view = room(session, house().site, tour_id, now(), _me())
    return render_template("tasting/touched.html", one=_shown(view.tile(guest_id)), **_shared(view))


@bp.post("/tours/<int:tour_id>/tasting/pour")
@open_to("guide", "bar", "manager")
def pour(tour_id: int) -> Response:
    """Ask for a pour."""
    return _tapped(tour_id, {"ledger": "pours", "guest": forms.whole("guest"), **posting.glass()})


@bp.post("/tours/<int:tour_id>/tasting/mark")
@open_to("guide", "bar", "manager")
def mark(tour_id: int) -> Response:
    """Mark a guest."""
    row = {"kind": forms.text("kind"), "detail": forms.text("detail") or None}
    return _tapped(tour_id, {"ledger": "marks", "guest": forms.whole("guest"), **row})


@bp.post("/tours/<int:tour_id>/tasting/correct")
@open_to("guide", "bar", "manager")
def correct(tour_id: int) -> Response:
    """Correct a pour."""
    row = {"pour": forms.text("pour"), "kind": forms.text("kind"), "guest": forms.whole("guest")}
    return _tapped(tour_id, {"ledger": "pour_marks", **row})


def _tapped(tour_id: int, row: dict[str, object]) -> Response:
    (answer,) = posting.posted({"key": forms.text("key"), **row})
    back = url_for("tasting.tasting", tour_id=tour_id, answer=answer.key)
    return redirect(f"{back}#guest-{answer.guest_id}", 303)


def _me() -> int | None:
    somebody = access.person()
    return somebody.id if somebody else None


def _around() -> list[signing_in.Around]:
    here = access.device()
    assert here is not None  # `open_to` lets nobody else through
    with house().store.read() as session:
        return signing_in.around(session, here.id, now(), POURERS)


def _shared(view: RoomView, told_round: Mapping[int, str] = MappingProxyType({})) -> dict[str, object]:
    """What the room and each part of it need."""
    following = next_round(view)
    return {
        "view": view,
        "new_key": new_key,
        "turns": ABOUT,
        "round": following,
        "round_glass": showing.sample(following.glass, house().site, words()) if following else None,
        "round_told": shown_round(view, told_round),
    }


def _shown(one: Tile) -> showing.ShownTile:
    return showing.tile(one, house().site, words(), now())


def _plain(answer: Answer) -> dict[str, object]:
    return {
        "key": answer.key,
        "outcome": answer.outcome,
        "status": answer.status,
        "error": answer.error,
        "reasons": list(answer.reasons),
        "guest": answer.guest_id,
        "sentence": showing.sentence(answer, house().site, words()),
    }
