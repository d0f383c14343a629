"""The table before the group comes: setting out, seating guests, clearing."""

from __future__ import annotations

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.store.keys import new_key
from kiosk.tasting import laying, posting, showing
from kiosk.tasting.answers import told
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.room import room
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.house import house, now, words


@bp.get("/tours/<int:tour_id>/mats")
@open_to(*POURERS)
def mats(tour_id: int) -> str:
    """Show what is set out for a tour, place by place."""
    with house().store.read() as session:
        view = room(session, house().site, tour_id, now())
        answer = told(session, request.args.get("answer", ""))
        away = laying.not_served(session, request.args.get("answer", ""))
        coming = laying.expected(session, tour_id)
    return render_template(
        "tasting/mats.html",
        view=view,
        mats=laying.mats(view),
        to_seat=laying.to_seat(view),
        to_ask=laying.to_ask(view),
        away=", ".join(showing.product_name(house().site, glass, words()) for glass in away),
        coming=max(1, coming),
        name=lambda glass: showing.product_name(house().site, glass, words()),
        size=lambda volume_ul: showing.size(volume_ul, house().site, words()) if volume_ul else "",
        answer_sentence=showing.sentence(answer, house().site, words()) if answer else "",
        new_key=new_key,
    )


@bp.post("/tours/<int:tour_id>/mats/set-out")
@open_to(*POURERS)
def set_out(tour_id: int) -> Response:
    """Pour the flight, or one sample of it, at some places."""
    with house().store.read() as session:
        view = room(session, house().site, tour_id, now())
    first, last = forms.whole("first") or 1, forms.whole("last") or 0
    answers = posting.posted(*laying.rows(view, forms.text("key"), forms.text("what"), first, last))
    posting.demand_granted(answers)
    return redirect(url_for("tasting.mats", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/mats/seat")
@open_to(*POURERS)
def seat(tour_id: int) -> Response:
    """Serve a mat to the guest who sits down at it."""
    answer = _told("seated", {"guest": forms.whole("guest")})
    return redirect(url_for("tasting.mats", tour_id=tour_id, answer=answer) + "#mats", 303)


@bp.post("/tours/<int:tour_id>/mats/clear")
@open_to(*POURERS)
def clear(tour_id: int) -> Response:
    """Clear glasses that nobody sits down at: poured, not served."""
    _told("cleared", {})
    return redirect(url_for("tasting.mats", tour_id=tour_id) + "#mats", 303)


def _told(kind: str, more: dict[str, object]) -> str:
    row = {"ledger": "pour_marks", "kind": kind, "pours": request.form.getlist("pour"), **more}
    (answer,) = posting.posted({"key": forms.text("key"), **row})
    return answer.key
