"""The room's pages beside the room itself: turned to a guest, and a round for the whole group."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.tasting import posting
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.room import room
from kiosk.tasting.rounds import rows
from kiosk.tasting.turning import turned
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.house import house, now, words


@bp.get("/tours/<int:tour_id>/tasting/<int:guest_id>/turn")
@open_to(*POURERS)
def turn(tour_id: int, guest_id: int) -> str:
    """Fill the screen with one kind sentence for a guest, in their language."""
    with house().store.read() as session:
        tile = room(session, house().site, tour_id, now()).tile(guest_id)
    theirs = house().words.get(tile.language, words())
    shown = turned(tile, request.args.get("about", ""), house().site, theirs, now())
    return render_template("tasting/turn.html", turned=shown, tour_id=tour_id, guest_id=guest_id)


@bp.post("/tours/<int:tour_id>/tasting/round")
@open_to(*POURERS)
def pour_round(tour_id: int) -> Response:
    """Ask for the next sample for the whole group, in one list."""
    key = forms.text("key")
    sent = map(forms.digits, request.form.getlist("guest"))
    guests = [guest for guest in sent if guest is not None][:200]
    posting.posted(*rows(key, posting.glass(), guests))
    return redirect(url_for("tasting.tasting", tour_id=tour_id, round=key) + "#round", 303)
