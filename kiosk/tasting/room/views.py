"""The pages of the room: its tiles, a round for the whole group, a sentence for a guest, preset glasses."""

from collections.abc import Mapping
from types import MappingProxyType

from flask import redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.entries import pages
from kiosk.entries.entries import sentence
from kiosk.figures.drinks import parse_volume_ul
from kiosk.site.products import allergen_names
from kiosk.staff import sessions
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.bottles.text import running_low
from kiosk.tasting.room import preset_glasses, text
from kiosk.tasting.room.corrections import REASONS
from kiosk.tasting.room.pouring import stored_answer
from kiosk.tasting.room.room import RoomView, booking_needs, bottles_running_low, room, room_version
from kiosk.tasting.room.rounds import guests_by_outcome, next_round, round_entries, round_outcomes
from kiosk.tasting.room.text import ABOUT, guest_message
from kiosk.tasting.room.tiles import Tile
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import etag_of, not_modified, theme, under_etag
from kiosk.web.security import form_token


@bp.get("/tours/<int:tour_id>/tasting/<int:guest_id>/turn")
@open_to(*POURERS)
def turn(tour_id: int, guest_id: int) -> str:
    """Show a guest one sentence on the whole screen, in their language."""
    with site_context().store.read() as session:
        tile = room(session, site_context().site, tour_id, now()).tile(guest_id)
    theirs = site_context().words.get(tile.language, words())
    message = guest_message(tile, request.args.get("about", ""), site_context().site, theirs, now())
    return render_template("room/turn.html", turned=message, tour_id=tour_id, guest_id=guest_id)


@bp.post("/tours/<int:tour_id>/tasting/round")
@open_to(*POURERS)
def pour_round(tour_id: int) -> Response:
    """Ask for the next sample for each guest of a round."""
    key = forms.text("key")
    sent = map(forms.digits, request.form.getlist("guest"))
    guests = [guest for guest in sent if guest is not None][:200]
    pages.post_entries(*round_entries(key, pages.chosen_glass() | {"tour": tour_id}, guests))
    return redirect(url_for("tasting.tasting", tour_id=tour_id, round=key) + "#round", 303)


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
def tasting(tour_id: int) -> Response:
    """Show the room of a tour, or answer 304, for which nothing is rendered, where the tablet has it."""
    here = site_context()
    with here.store.read() as session:
        around, etag = _version(session, tour_id)
        if unchanged := not_modified(etag):
            return unchanged
        view = _room(session, tour_id)
        answer = stored_answer(session, request.args.get("answer", ""))
        short = bottles_running_low(session, here.site, view)
        outcomes = round_outcomes(session, request.args.get("round", ""))
    page = render_template(
        "room/room.html",
        low=[running_low(one, here.site, words()) for one in short],
        short=short,
        needs=booking_needs(view),
        allergen_names=allergen_names,
        tiles=[_tile_text(view, tile) for tile in view.tiles],
        around=around,
        answer=answer,
        answer_sentence=sentence(answer, here.site, words()) if answer else "",
        **_shared(view, outcomes),
    )
    return under_etag(page, etag)


@bp.get("/tours/<int:tour_id>/tasting/<int:guest_id>")
@open_to(*POURERS)
def tile(tour_id: int, guest_id: int) -> str:
    """Show one guest's tile, for the page to replace after an entry."""
    with site_context().store.read() as session:
        view = _room(session, tour_id)
    return render_template("room/touched.html", one=_tile_text(view, view.tile(guest_id)), **_shared(view))


@bp.post("/tours/<int:tour_id>/tasting/pour")
@open_to(*POURERS)
def pour(tour_id: int) -> Response:
    """Ask for a pour."""
    return _post_entry(tour_id, {"ledger": "pours", "guest": forms.whole("guest"), **pages.chosen_glass()})


@bp.post("/tours/<int:tour_id>/tasting/mark")
@open_to(*POURERS)
def mark(tour_id: int) -> Response:
    """Mark a guest."""
    row = {"kind": forms.text("kind"), "detail": forms.text("detail") or None}
    return _post_entry(tour_id, {"ledger": "marks", "guest": forms.whole("guest"), **row})


@bp.post("/tours/<int:tour_id>/tasting/correct")
@open_to(*POURERS)
def correct(tour_id: int) -> Response:
    """Correct a pour."""
    row = {"pour": forms.text("pour"), "kind": forms.text("kind"), "guest": forms.whole("guest")}
    row |= {"reason": forms.text("reason")}
    return _post_entry(tour_id, {"ledger": "pour_marks", **row})


def _post_entry(tour_id: int, row: dict[str, object]) -> Response:
    (answer,) = pages.post_entries({"key": forms.text("key"), "tour": tour_id, **row})
    back = url_for("tasting.tasting", tour_id=tour_id, answer=answer.key)
    return redirect(f"{back}#guest-{answer.guest_id}", 303)


def _version(session: Session, tour_id: int) -> tuple[list[sessions.SignedInPerson], str]:
    """Return who is signed in on this device, and the ETag of a tour's room for the person who asks."""
    here, person, device = site_context(), access.require_person(), access.require_device()
    around = sessions.signed_in_people(session, device.id, now(), POURERS)
    asking = (device, person.id, person.name, sorted(person.roles), access.entry_proof(), form_token())
    shown = room_version(session, here.site, tour_id, now())
    return around, etag_of(request.full_path, asking, words().language, theme(), around, shown)


def _room(session: Session, tour_id: int) -> RoomView:
    """Return a tour's room for the person who asks, on their device."""
    site, person, device = site_context().site, access.require_person(), access.require_device()
    return room(session, site, tour_id, now(), person.id, device.id, other_days=person.sees_other_days)


def _shared(view: RoomView, outcomes: Mapping[int, str] = MappingProxyType({})) -> dict[str, object]:
    """Return what the templates of the room and of its parts need."""
    following = next_round(view)
    return {
        "view": view,
        "new_key": new_key,
        "turns": ABOUT,
        "reasons": REASONS,
        "entry_proof": access.entry_proof(),
        "unit_ul": parse_volume_ul(f"1 {site_context().site.volume_unit}", round_up=False),
        "round": following,
        "round_glass": text.sample_text(following.glass, site_context().site, words()) if following else None,
        "round_told": guests_by_outcome(view, outcomes),
    }


def _tile_text(view: RoomView, one: Tile) -> text.TileText:
    others = view.others(one.guest_id) if one.may_be_served else ()
    return text.tile_text(one, others, site_context().site, words(), now())
