"""Pages on which bookings are taken, changed, moved, canceled and brought back."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy import Row
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.site.products import ALLERGEN_WORDS
from kiosk.store.engine import run
from kiosk.tours.blueprint import PLANNERS, STEPPERS, bp, who_changes
from kiosk.tours.calendar.days import service_day
from kiosk.tours.day import day_tours, one_tour
from kiosk.tours.planning import bookings, forms
from kiosk.tours.planning.bookings import WALK_IN, BookingFaults
from kiosk.tours.planning.forms import BOOKING_FIELDS, Typed, typed_form
from kiosk.tours.regrouping import people as regrouping
from kiosk.web import forms as fields
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.formats import parse_day

DAYS_OFFERED = 7
MOST_WALK_IN = 8
"""The most people of one press at the door."""
CHOOSE_TOUR = N_("Choose a tour with free places.")


@bp.get("/bookings/new")
@open_to(*PLANNERS)
def take_booking() -> str:
    """Show the form for a telephone call: the tours of a day with their free places, then who calls."""
    return _call_page(None)


@bp.post("/bookings/new")
@open_to(*PLANNERS)
def record_call() -> Response:
    """Record a booking of the tour that was chosen."""
    sent = _typed_booking()
    tour_id = fields.digits(sent.texts["tour"])
    if tour_id is None:
        return make_response(_call_page(sent, {"tour": words().gettext(CHOOSE_TOUR)}), 422)
    try:
        return _to_booking(tour_id, _add(tour_id, sent))
    except BookingFaults as faults:
        return make_response(_call_page(sent, faults.sentences(words())), faults.status)


@bp.get("/walk-in")
@open_to(*STEPPERS)
def walk_in() -> str:
    """Show today's tours with free places, and a button for each number of people at the door."""
    site = site_context().site
    with site_context().store.read() as session:
        offered = _offered(session, site.service_day(now()))
    tickets = forms.ticket_choices(site, words())
    return render_template("tours/walk_in.html", tours=offered, most=MOST_WALK_IN, tickets=tickets)


@bp.post("/tours/<int:tour_id>/walk-in")
@open_to(*STEPPERS)
def record_walk_in(tour_id: int) -> Response:
    """Book people who stand at the door."""
    here, size = site_context(), fields.whole("size") or 0
    with here.store.read() as session:
        language = one_tour(session, tour_id).languages[0]
    name = words().gettext(WALK_IN)
    ticket = forms.plain(fields.text("ticket")) if here.site.ticket_kinds else None
    work = partial(bookings.add_walk_in, site=here.site, tour_id=tour_id, size=size, name=name, ticket=ticket)
    return _to_booking(tour_id, run(here.store, partial(work, language=language)))


@bp.get("/tours/<int:tour_id>/bookings/new")
@open_to(*PLANNERS)
def new_booking(tour_id: int) -> str:
    """Show the form of a new booking."""
    return _booking_page(None, tour_id)


@bp.post("/tours/<int:tour_id>/bookings/new")
@open_to(*PLANNERS)
def add_booking(tour_id: int) -> Response:
    """Record a new booking of a tour."""
    sent = _typed_booking()
    try:
        return _to_booking(tour_id, _add(tour_id, sent))
    except BookingFaults as faults:
        return make_response(_booking_page(sent, tour_id, faults=faults), faults.status)


@bp.get("/tours/<int:tour_id>/bookings/<int:booking_id>")
@open_to(*PLANNERS)
def edit_booking(tour_id: int, booking_id: int) -> str:
    """Show the form of a booking filled in."""
    return _booking_page(None, tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>")
@open_to(*PLANNERS)
def change_booking(tour_id: int, booking_id: int) -> Response:
    """Save a changed booking."""
    here, sent = site_context(), _typed_booking()
    work = partial(bookings.change_booking, site=here.site, tour_id=tour_id, booking_id=booking_id)
    work = partial(work, draft=forms.parse_booking(sent, here.site), revision=fields.whole("revision") or 0)
    try:
        run(here.store, partial(work, **who_changes()))
    except BookingFaults as faults:
        return make_response(_booking_page(sent, tour_id, booking_id, faults), faults.status)
    return _to_booking(tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/cancel")
@open_to(*PLANNERS)
def cancel_booking(tour_id: int, booking_id: int) -> Response:
    """Cancel a booking."""
    return _act(bookings.cancel_booking, tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/no-show")
@open_to(*STEPPERS)
def no_show(tour_id: int, booking_id: int) -> Response:
    """Record that the people of a booking did not come."""
    return _act(bookings.record_no_show, tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/bring-back")
@open_to(*STEPPERS)
def bring_back_booking(tour_id: int, booking_id: int) -> Response:
    """Take back that a booking was canceled or that its people did not come."""
    return _act(bookings.bring_back_booking, tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/size")
@open_to(*STEPPERS)
def resize_booking(tour_id: int, booking_id: int) -> Response:
    """Make a booking one person larger or smaller."""
    by_people = 1 if fields.text("act") == "more" else -1
    return _act(partial(bookings.resize_booking, by_people=by_people), tour_id, booking_id)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/move")
@open_to(*PLANNERS)
def move_booking(tour_id: int, booking_id: int) -> Response:
    """Move a booking to another tour."""
    here, target = site_context(), fields.whole("to") or 0
    given = {"booking_id": booking_id, "source": tour_id, "target": target}
    work = partial(regrouping.move_booking, site=here.site, revision=fields.whole("revision") or 0)
    run(here.store, partial(work, **given, **who_changes()))
    return _to_booking(target, booking_id)


def _act(work: Callable[..., None], tour_id: int, booking_id: int) -> Response:
    """Do something with a booking that the form read at a revision, and show its tour."""
    given = {"tour_id": tour_id, "booking_id": booking_id, "revision": fields.whole("revision") or 0}
    run(site_context().store, partial(work, **given, **who_changes()))
    return _to_booking(tour_id, booking_id)


def _add(tour_id: int, sent: Typed) -> int:
    here = site_context()
    work = partial(bookings.add_booking, site=here.site, tour_id=tour_id)
    return run(here.store, partial(work, draft=forms.parse_booking(sent, here.site)))


def _to_booking(tour_id: int, booking_id: int) -> Response:
    return redirect(url_for("tours.group", tour_id=tour_id, _anchor=f"booking-{booking_id}"), 303)


def _typed_booking() -> Typed:
    typed = typed_form(request.form, request.form.getlist("allergen"), BOOKING_FIELDS)
    return typed.with_languages(request.form.getlist("more_language"))


def _offered(session: Session, day: date) -> Sequence[Row[Any]]:
    """Return the tours of a day on which somebody may still be booked."""
    rows = day_tours(session, site_context().site, day)
    open_rows = [row for row in rows if row.cancelled_at is None and row.finished_at is None]
    return [row for row in open_rows if row.booked < row.places and not (row.private and row.booked)]


def _call_page(typed: Typed | None, wrong: dict[str, str] | None = None) -> str:
    site = site_context().site
    today = site.service_day(now())
    day = parse_day(request.args.get("day", "")) or today
    with site_context().store.read() as session:
        offered, known = _offered(session, day), service_day(session, site, day)
    here = {"offers": offered, "known": known, "day": day, "today": today}
    here |= {"offered_days": [day + timedelta(days=n) for n in range(DAYS_OFFERED)]}
    return _form_page(typed or forms.blank_booking(site.codes, site), wrong or {}, **here)


def _booking_page(
    typed: Typed | None, tour_id: int, booking_id: int | None = None, faults: BookingFaults | None = None
) -> str:
    site = site_context().site
    with site_context().store.read() as session:
        tour = one_tour(session, tour_id)
        row = None if booking_id is None else bookings.find_booking(session, tour_id, booking_id)
        others = _offered(session, site.service_day(tour.starts_at)) if row else ()
    typed = typed or (forms.saved_booking(row) if row else forms.blank_booking(tour.languages, site))
    wrong = faults.sentences(words()) if faults else {}
    others = [one for one in others if one.id != tour_id and row and one.places - one.booked >= row.size]
    return _form_page(typed, wrong, tour=tour, booking=row, others=others)


def _form_page(typed: Typed, wrong: dict[str, str], **here: Any) -> str:
    choices = [(code, words().gettext(word)) for code, word in ALLERGEN_WORDS.items()]
    tickets = forms.ticket_choices(site_context().site, words(), typed.texts.get("ticket", ""))
    shared = {"typed": typed, "wrong": wrong, "allergens": choices, "tickets": tickets}
    return render_template("tours/booking_form.html", **shared, **here)
