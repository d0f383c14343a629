"""What was held back: listed, and settled by a person."""

from __future__ import annotations

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.entering import held as held_back
from kiosk.production.entering.reading import EntryFaults, told
from kiosk.production.entering.showing import faults_told, me, names
from kiosk.store.engine import run
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words

MOST_SHOWN = 50
"""What is settled makes room for the rest: a spoilt file can hold thousands of rows."""


@bp.get("/records/held")
@open_to(*WRITERS)
def held() -> str:
    """List what was held back."""
    return _page("")


@bp.post("/records/held/<int:held_id>")
@open_to(*WRITERS)
def settle(held_id: int) -> Response:
    """Record an entry as it stands, or drop it."""
    one, revision, site, at = found(held_id), forms.whole("revision") or 0, site_context().site, now()

    def work(session: Session) -> None:
        if request.form.get("outcome") == held_back.CONFIRMED:
            held_back.confirm(session, site, one, revision, by=me(), at=at)
        else:
            held_back.settle(session, one.id, revision, held_back.DROPPED, by=me(), at=at)

    try:
        run(site_context().store, work)
    except EntryFaults as faults:
        return make_response(_page("; ".join(faults_told(faults).values())), faults.status)
    return redirect(url_for("production.held"))


def found(held_id: int) -> held_back.Waiting:
    """Return an entry that waits. Raises NotFound."""
    with site_context().store.read() as session:
        waits = held_back.waiting(session, held_id)
    if not waits:
        raise NotFound()
    return waits[0]


def _page(wrong: str) -> str:
    with site_context().store.read() as session:
        waiting = held_back.waiting(session)
    here = {"waiting": waiting[:MOST_SHOWN], "further": len(waiting[MOST_SHOWN:]), "wrong": wrong}
    return render_template("production/held.html", told=_reason, **here, **names(()))


def _reason(reason: Mapping[str, object]) -> str:
    facts = reason["facts"]
    return told(str(reason["message"]), facts if isinstance(facts, Mapping) else {}, words())
