"""The page of a group: its grid of booked heads, the sheet of one of them, and what check-in records.

Every press is a plain form. After a mark that ends a head's check the page goes on to the next one that
waits; after any other it stays on that head.
"""

import re
from collections.abc import Callable
from functools import partial
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.exceptions import Forbidden, NotFound
from werkzeug.wrappers import Response

from kiosk.entries.errors import EntryError, NotRecorded
from kiosk.entries.guest_marks import MarkEntry
from kiosk.entries.pages import demand_granted, form_origin, post_entries
from kiosk.site.products import ALLERGEN_WORDS, allergen_names
from kiosk.site.settings import ID_KINDS
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tours.blueprint import STEPPERS, bp, sees_names
from kiosk.tours.checkin import arrivals
from kiosk.tours.checkin.group import group as read_group
from kiosk.tours.checkin.welcome import welcome_entries, welcome_rounds
from kiosk.tours.day import angels_bottles_since
from kiosk.tours.planning.tours import WHY, tour_steps
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import figure_reader, now, site_context, words
from kiosk.words.errors import sentence
from kiosk.words.reasons import SERVICE_STATES

GOES_ON = ("id_check", "no_alcohol", "under_age")
"""The kinds of marks that end the check of a head."""

_HEAD = re.compile(r"([0-9]{1,9})-([0-9]{1,6})")


@bp.get("/tours/<int:tour_id>")
@open_to("guide", "bar", "trainee", "manager")
def group(tour_id: int) -> str:
    """Show a group, with the sheet of the head that `?head=` names or that waits next `?after=` another."""
    return _group_page(tour_id, request.args.get("head", ""), request.args.get("after", ""))


def _group_page(tour_id: int, code: str = "", after: str = "", wrong: str = "") -> str:
    here = site_context()
    with here.store.read() as session:
        shown = read_group(session, here.site, tour_id, now())
        steps = tour_steps(session, tour_id)
        rounds = welcome_rounds(session, here.site, shown)
    if not sees_names(here.site.service_day(shown.tour.starts_at)):
        shown = shown.without_names()
    head = shown.next_head(after) if after else shown.head(code)
    return render_template(
        "tours/group.html",
        group=shown,
        chosen=head,
        now=now(),
        following=shown.next_head(head.code if head else ""),
        last=shown.last_mark(access.require_person().id),
        wrong=wrong,
        steps=steps,
        rounds=rounds,
        drunk=angels_bottles_since(figure_reader(), shown.tour.starts_at, now()),
        **_shared(),
    )


def _shared() -> dict[str, Any]:
    """Return what the templates of the group need beside the group."""
    return {
        "states": SERVICE_STATES,
        "mark_label": arrivals.mark_label,
        "new_key": new_key,
        "allergen_names": allergen_names,
        "allergens": [(code, words().gettext(word)) for code, word in ALLERGEN_WORDS.items()],
        "id_kinds": ID_KINDS,
        "id_names": arrivals.ID_NAMES,
        "why": WHY,
    }


@bp.post("/tours/<int:tour_id>/marks")
@open_to(*STEPPERS)
def mark(tour_id: int) -> Response:
    """Record one mark about one head."""
    booking_id, place = _head()
    kind, detail = forms.text("kind"), forms.text("detail", 80) or None
    entry = MarkEntry(form_origin(), 0, kind, detail, tour_id=tour_id)
    work = partial(arrivals.mark_place, site=site_context().site, entry=entry, now=now())
    return _record(tour_id, partial(work, booking_id=booking_id, place=place), goes_on=kind in GOES_ON)


@bp.post("/tours/<int:tour_id>/describe")
@open_to(*STEPPERS)
def describe(tour_id: int) -> Response:
    """Change the language or the first name of one guest."""
    booking_id, place = _head()
    values = {name: forms.text(name) for name in ("language", "first_name") if name in request.form}
    work = partial(arrivals.describe_guest, site=site_context().site, tour_id=tour_id, booking_id=booking_id)
    return _record(tour_id, partial(work, place=place, values=values, **_change()))


@bp.post("/tours/<int:tour_id>/returning")
@open_to(*STEPPERS)
def bring_back(tour_id: int) -> Response:
    """Let a guest who was on an earlier tour today keep that number here."""
    booking_id, place = _head()
    number = forms.whole("number") or 0
    work = partial(
        arrivals.bring_back_guest, site=site_context().site, tour_id=tour_id, booking_id=booking_id
    )
    return _record(tour_id, partial(work, place=place, number=number, **_change()))


@bp.post("/tours/<int:tour_id>/take-back")
@open_to(*STEPPERS)
def take_back(tour_id: int) -> Response:
    """Take back the number of a guest who did not come, as long as nothing was poured for it."""
    booking_id, place = _head()
    work = partial(arrivals.take_back_number, tour_id=tour_id, booking_id=booking_id, place=place)
    return _record(tour_id, partial(work, **_change()))


@bp.post("/tours/<int:tour_id>/briefed")
@open_to(*STEPPERS)
def brief(tour_id: int) -> Response:
    """Record for everyone who is here that shoes are closed and the safety words acknowledged."""
    origin, at = form_origin(), now()
    run(site_context().store, lambda session: arrivals.brief_all(session, tour_id, origin, at))
    return redirect(url_for("tours.group", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/welcome")
@open_to(*STEPPERS)
def welcome(tour_id: int) -> Response:
    """Pour the welcome drink for everyone who waits for it, with alcohol or without."""
    key, here = form_origin().key, site_context()
    with here.store.read() as session:
        rounds = welcome_rounds(session, here.site, read_group(session, here.site, tour_id, now()))
    entries = welcome_entries(rounds, tour_id, key)
    try:
        demand_granted(post_entries(*entries) if entries else ())
    except NotRecorded as refusal:
        return make_response(_group_page(tour_id, wrong=sentence(refusal, words())), refusal.status)
    return redirect(url_for("tours.group", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/guests/<int:guest_id>/allergies")
@open_to(*STEPPERS)
def name_allergies(tour_id: int, guest_id: int) -> Response:
    """Record the allergens that a guest names."""
    code, person = "{}-{}".format(*_head()), access.require_person()
    codes, revision, at = request.form.getlist("allergen"), forms.whole("revision") or 0, now()
    with site_context().store.read() as session:
        if not sees_names(arrivals.allergens_of_guest(session, tour_id, guest_id).day):
            raise Forbidden()
    work = partial(arrivals.record_allergens, tour_id=tour_id, guest_id=guest_id, revision=revision)
    run(site_context().store, partial(work, codes=codes, by=person.id, at=at))
    return redirect(url_for("tours.group", tour_id=tour_id, head=code), 303)


@bp.post("/tours/<int:tour_id>/bookings/<int:booking_id>/numbers")
@open_to(*STEPPERS)
def numbers(tour_id: int, booking_id: int) -> Response:
    """Give numbers to all who are missing of a booking that has arrived whole."""
    here, at = site_context(), now()
    run(here.store, lambda session: arrivals.give_numbers(session, here.site, tour_id, booking_id, at))
    return redirect(url_for("tours.group", tour_id=tour_id, _anchor=f"booking-{booking_id}"))


def _record(tour_id: int, work: Callable[[Session], object], *, goes_on: bool = False) -> Response:
    """Record a press about a head and go on, or show its sheet again with the sentence of what is refused."""
    code = "{}-{}".format(*_head())
    try:
        run(site_context().store, work)
    except EntryError as refusal:
        return make_response(_group_page(tour_id, code, wrong=sentence(refusal, words())), refusal.status)
    after, head = (code, None) if goes_on else (None, code)
    return redirect(url_for("tours.group", tour_id=tour_id, after=after, head=head), 303)


def _head() -> tuple[int, int]:
    """Return the booking and the place that a form is about. Raises NotFound."""
    typed = _HEAD.fullmatch(forms.text("head"))
    if typed is None:
        raise NotFound()
    return int(typed[1]), int(typed[2])


def _change() -> dict[str, Any]:
    return {"by": access.require_person().id, "now": now()}
