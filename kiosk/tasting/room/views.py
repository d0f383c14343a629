"""The pages of the room: the room and its state, a sentence for a guest, preset glasses."""

import json

from flask import redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.entries import pages
from kiosk.entries.entries import sentence
from kiosk.entries.review import staff_names
from kiosk.figures.drinks import born_on_or_before, parse_volume_ul
from kiosk.staff import sessions
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.room import preset_glasses
from kiosk.tasting.room.pouring import stored_answer
from kiosk.tasting.room.room import RoomView, bottles_running_low, room, room_version, tour_of_room
from kiosk.tasting.room.state import Reader, room_state
from kiosk.tasting.room.text import guest_message
from kiosk.tasting.rules.policy import policy_of_day
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import etag_of, not_modified, under_etag


@bp.get("/tours/<int:tour_id>/tasting/<int:guest_id>/turn")
@open_to(*POURERS)
def turn(tour_id: int, guest_id: int) -> str:
    """Show a guest one sentence on the whole screen, in their language."""
    with site_context().store.read() as session:
        tile = room(session, site_context().site, tour_id, now()).tile(guest_id)
    theirs = site_context().words.get(tile.language, words())
    message = guest_message(tile, request.args.get("about", ""), site_context().site, theirs, now())
    return render_template("room/turn.html", turned=message, tour_id=tour_id, guest_id=guest_id)


@bp.get("/tours/<int:tour_id>/mats")
@open_to(*POURERS)
def former_preset_glasses(tour_id: int) -> Response:
    """Redirect from the address that the page of preset glasses had before."""
    return redirect(url_for("tasting.table", tour_id=tour_id))


@bp.get("/tours/<int:tour_id>/preset-glasses")
@open_to(*POURERS)
def table(tour_id: int) -> str:
    """Show the glasses that are preset for a tour, seat by seat."""
    with site_context().store.read() as session:
        view = _room(session, tour_id)
        answer = stored_answer(session, request.args.get("answer", ""))
        away = preset_glasses.glasses_not_served(session, request.args.get("answer", ""))
        coming = preset_glasses.people_booked(session, tour_id)
    return render_template(
        "room/preset_glasses.html",
        view=view,
        seats=preset_glasses.glasses_by_seat(view),
        to_seat=preset_glasses.guests_to_seat(view),
        to_ask=preset_glasses.guests_to_ask(view),
        away=away,
        coming=max(1, coming),
        answer_sentence=sentence(answer, site_context().site, words()) if answer else "",
        new_key=new_key,
    )


@bp.post("/tours/<int:tour_id>/preset-glasses/pour")
@open_to(*POURERS)
def preset(tour_id: int) -> Response:
    """Pour the flight, or one sample of it, at some seats."""
    with site_context().store.read() as session:
        view = _room(session, tour_id)
    first = forms.whole("first")
    first, last = (first, forms.whole("last") or 0) if first else (1, 0)  # no seat typed, no seat meant
    answers = pages.post_entries(
        *preset_glasses.preset_entries(view, forms.text("key"), forms.text("what"), first, last)
    )
    pages.demand_granted(answers)
    return redirect(url_for("tasting.table", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/preset-glasses/seat")
@open_to(*POURERS)
def seat(tour_id: int) -> Response:
    """Serve the glasses of a seat to the guest who is seated there."""
    answer = _record_at_seat("seated", {"guest": forms.whole("guest"), "tour": tour_id})
    return redirect(url_for("tasting.table", tour_id=tour_id, answer=answer) + "#seats", 303)


@bp.post("/tours/<int:tour_id>/preset-glasses/clear")
@open_to(*POURERS)
def clear(tour_id: int) -> Response:
    """Clear pre-poured glasses: recorded as poured and not served."""
    _record_at_seat("cleared", {"tour": tour_id})
    return redirect(url_for("tasting.table", tour_id=tour_id) + "#seats", 303)


def _record_at_seat(kind: str, more: dict[str, object]) -> str:
    row = {"ledger": "pour_marks", "kind": kind, "pours": request.form.getlist("pour"), **more}
    (answer,) = pages.post_entries({"key": forms.text("key"), **row})
    return answer.key


@bp.get("/tours/<int:tour_id>/tasting")
@open_to(*POURERS)
def tasting(tour_id: int) -> str:
    """Show the room of a tour, which its script fills from `state`."""
    here, device = site_context(), access.require_device()
    with here.store.read() as session:
        tour = tour_of_room(session, tour_id)
        around = sessions.signed_in_people(session, device.id, now(), POURERS)
        rules = policy_of_day(session, here.site, tour.room, here.site.service_day(now()))
    return render_template(
        "room/room.html",
        tour=tour,
        around=around,
        tighter=rules != here.site.policy,
        born=born_on_or_before(here.site.service_day(now()), here.site.policy.guest_age),
        entry_proof=access.entry_proof(),
        unit_ul=parse_volume_ul(f"1 {here.site.volume_unit}", round_up=False),
    )


@bp.get("/tours/<int:tour_id>/tasting/state")
@open_to(*POURERS)
def state(tour_id: int) -> Response:
    """Return a room as data, or answer 304, for which nothing is read, where the tablet has it."""
    here = site_context()
    with here.store.read() as session:
        etag = _version(session, tour_id)
        if unchanged := not_modified(etag):
            return unchanged
        view = _room(session, tour_id)
        short = bottles_running_low(session, here.site, view)
        staff = staff_names(session)
    reader = Reader(here.site, words(), staff, now())
    return under_etag(json.dumps(room_state(view, short, reader)), etag, mimetype="application/json")


def _version(session: Session, tour_id: int) -> str:
    """Return the ETag of a tour's room for the person who asks."""
    here, person, device = site_context(), access.require_person(), access.require_device()
    asking = (device.id, person.id, sorted(person.roles))
    shown = room_version(session, here.site, tour_id, now())
    return etag_of(request.path, asking, words().language, shown)


def _room(session: Session, tour_id: int) -> RoomView:
    """Return a tour's room for the person who asks, on their device."""
    site, person, device = site_context().site, access.require_person(), access.require_device()
    return room(session, site, tour_id, now(), person.id, device.id, other_days=person.sees_other_days)
