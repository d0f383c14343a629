"""Staff pages of the day: its tours, and the check-in of each group."""

from collections.abc import Mapping
from datetime import date, timedelta
from functools import partial

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import Forbidden
from werkzeug.wrappers import Response

from kiosk.entries.errors import EntryError
from kiosk.entries.guest_marks import MarkEntry
from kiosk.entries.pages import form_origin
from kiosk.entries.views import count_held
from kiosk.site.products import ALLERGEN_WORDS, allergen_names
from kiosk.staff.people import ROLES
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tours import checkin
from kiosk.tours.blueprint import bp
from kiosk.tours.board import SHORT_NOTE, board
from kiosk.tours.calendar import views as calendar_views
from kiosk.tours.day import angels_bottles_since, this_morning, unattended_days
from kiosk.tours.planning import views as planning_views
from kiosk.tours.planning.tours import WHY, tour_steps
from kiosk.tours.walk import views as walk_views
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import figure_reader, now, page_reader, site_context, words
from kiosk.words.errors import sentence
from kiosk.words.formats import parse_day
from kiosk.words.reasons import SERVICE_STATES

__all__ = ["bp", "calendar_views", "planning_views", "walk_views"]


@bp.get("/")
@open_to(*ROLES)
def day() -> str:
    """Show the tours of today, or of the day that `?day=` names."""
    site, person = site_context().site, access.require_person()
    today = site.service_day(now())
    asked = parse_day(request.args.get("day", "")) or today
    sees = _sees_names(asked) and access.may_open("tours.group")
    with site_context().store.read() as session:
        rows = board(session, site, asked, now(), person.roles, with_needs=sees)
        days = unattended_days(session, now())
    begins, _ = site.day_bounds(today)
    lines = this_morning(site_context().content, page_reader(), site.local(begins)) if asked == today else []
    here = {"rows": rows, "held": count_held(), "unattended_days": days, "morning": lines}
    here |= {"day": asked, "today": today, "one_day": timedelta(days=1), "short_note": SHORT_NOTE}
    here |= {"new_key": new_key, "allergen_names": allergen_names, "why": WHY}
    return render_template("tours/day.html", **here)


@bp.get("/tours/<int:tour_id>")
@open_to("guide", "bar", "trainee", "manager")
def group(tour_id: int) -> str:
    """Show a group with its guests' states and the marks that can be made."""
    return _group_page(tour_id, {})


def _group_page(tour_id: int, wrong: Mapping[int, str]) -> str:
    """Return the page of a group, with a sentence at each guest whose mark was refused."""
    with site_context().store.read() as session:
        found = checkin.group(session, site_context().site, tour_id, now())
        steps = tour_steps(session, tour_id)
    if not _sees_names(site_context().site.service_day(found.tour.starts_at)):
        found = found.without_names()
    drunk = angels_bottles_since(figure_reader(), found.tour.starts_at, now())
    return render_template(
        "tours/group.html",
        group=found,
        states=SERVICE_STATES,
        mark_label=checkin.mark_label,
        new_key=new_key,
        allergen_names=allergen_names,
        drunk=drunk,
        steps=steps,
        why=WHY,
        wrong=wrong,
    )


def _sees_names(day: date) -> bool:
    """Return whether the person who asks sees names and needs of the guests of a service day."""
    return day == site_context().site.service_day(now()) or access.require_person().sees_other_days


@bp.post("/tours/<int:tour_id>/marks")
@open_to("guide", "bar", "manager")
def mark(tour_id: int) -> Response:
    """Record one mark about one guest."""
    guest_id = forms.whole("guest") or 0
    entry = MarkEntry(form_origin(), guest_id, forms.text("kind"), tour_id=tour_id)
    try:
        checkin.mark_guest(site_context().store, site_context().site, entry, now())
    except EntryError as refusal:
        wrong = {guest_id: sentence(refusal, words())}
        return make_response(_group_page(tour_id, wrong), refusal.status)
    return redirect(url_for("tours.group", tour_id=tour_id, _anchor=f"guest-{guest_id}"))


@bp.get("/tours/<int:tour_id>/guests/<int:guest_id>/allergies")
@open_to("guide", "bar", "manager")
def allergies(tour_id: int, guest_id: int) -> str:
    """Show the allergens that a guest named."""
    with site_context().store.read() as session:
        guest = checkin.allergens_of_guest(session, tour_id, guest_id)
    if not _sees_names(guest.day):
        raise Forbidden()
    choices = [(code, words().gettext(word)) for code, word in ALLERGEN_WORDS.items()]
    return render_template("tours/allergies.html", tour_id=tour_id, guest=guest, choices=choices)


@bp.post("/tours/<int:tour_id>/guests/<int:guest_id>/allergies")
@open_to("guide", "bar", "manager")
def name_allergies(tour_id: int, guest_id: int) -> Response:
    """Record the allergens that a guest names."""
    person = access.require_person()
    codes, revision, at = request.form.getlist("allergen"), forms.whole("revision") or 0, now()
    work = partial(checkin.record_allergens, tour_id=tour_id, guest_id=guest_id, revision=revision)
    run(site_context().store, partial(work, codes=codes, by=person.id, at=at))
    return redirect(url_for("tours.group", tour_id=tour_id, _anchor=f"guest-{guest_id}"), 303)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/numbers")
@open_to("guide", "bar", "manager")
def numbers(tour_id: int, booking_id: int) -> Response:
    """Give numbers to a party that has arrived."""
    here, at = site_context(), now()
    run(here.store, lambda session: checkin.give_numbers(session, here.site, tour_id, booking_id, at))
    return redirect(url_for("tours.group", tour_id=tour_id, _anchor=f"booking-{booking_id}"))
