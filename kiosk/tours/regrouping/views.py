"""Pages on which a tour is split, merged or shortened; each says first what it does to others."""

from functools import partial
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.figures.tours.timetable import split
from kiosk.store.engine import run
from kiosk.tours.blueprint import PLANNERS, bp, route_here, stop_names, who_changes
from kiosk.tours.day import one_tour
from kiosk.tours.planning import forms
from kiosk.tours.planning.effects import NEW, Walk, effects_of
from kiosk.tours.planning.forms import SPLIT_FIELDS, Typed, typed_form
from kiosk.tours.planning.tours import TourDraft, TourFaults
from kiosk.tours.regrouping import people, shortening
from kiosk.tours.route import planned_route
from kiosk.web import access
from kiosk.web import forms as fields
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence


@bp.get("/tours/<int:tour_id>/split")
@open_to(*PLANNERS)
def split_form(tour_id: int) -> str:
    """Show the form of a split: half of the places go, at the same time."""
    with site_context().store.read() as session:
        tour = one_tour(session, tour_id)
    half = {"places": str(split(tour.places, max(1, -(-tour.places // 2)))[0]), "flight": "", "room": ""}
    saved = forms.saved_tour(tour, site_context().site)
    return _split_page(tour_id, Typed({**saved.texts, **half}, saved.ticked), ())


@bp.post("/tours/<int:tour_id>/split")
@open_to(*PLANNERS)
def split_tour(tour_id: int) -> Response:
    """Show what a split does, then split."""
    here, sent = site_context(), typed_form(request.form, request.form.getlist("language"), SPLIT_FIELDS)
    chosen = [n for one in request.form.getlist("booking") if (n := fields.digits(one))]
    with here.store.read() as session:
        draft = forms.parse_split(sent, here.site, one_tour(session, tour_id))
        effects = _split_effects(session, tour_id, draft)
    if effects and sent.texts["seen"] != effects["mark"]:
        return make_response(_split_page(tour_id, sent, chosen, effects=effects), 409)
    given: dict[str, Any] = {"revision": fields.whole("revision") or 0, "booking_ids": chosen, "draft": draft}
    work = partial(people.split_tour, site=here.site, tour_id=tour_id, **given)
    try:
        new_id = run(here.store, partial(work, **who_changes()))
    except TourFaults as faults:
        wrong = faults.sentences(words())
        return make_response(_split_page(tour_id, sent, chosen, wrong), faults.status)
    return redirect(url_for("tours.group", tour_id=new_id), 303)


def _split_effects(session: Session, tour_id: int, draft: TourDraft) -> dict[str, Any] | None:
    """Return what both groups do after a split; None for what cannot be read."""
    if draft.starts_at is None or draft.places is None:
        return None
    site, route, tour = site_context().site, route_here(), one_tour(session, tour_id)
    stops = planned_route(route, tour.plan)
    left = Walk(tour.letter, tour.starts_at, max(1, tour.places - draft.places), stops, tour.flight_id)
    new = Walk(NEW, draft.starts_at, draft.places, stops, tour.flight_id)
    seen = effects_of(session, site, route, new, now(), without=[tour_id], beside=[left.plan])
    return {"new": seen, "mark": seen.mark or "clear"}


def _split_page(
    tour_id: int,
    typed: Typed,
    chosen: Any,
    wrong: dict[str, str] | None = None,
    effects: dict[str, Any] | None = None,
) -> str:
    here = site_context()
    with here.store.read() as session:
        tour, every = one_tour(session, tour_id), people.open_bookings(session, tour_id)
        choices = forms.tour_choices(session, here.site, words(), now())
    shared = {"tour": tour, "bookings": every, "chosen": chosen, "typed": typed, "names": stop_names()}
    return render_template("tours/split.html", wrong=wrong or {}, effects=effects, choices=choices, **shared)


@bp.get("/tours/<int:tour_id>/merge")
@open_to(*PLANNERS)
def merge_form(tour_id: int) -> str:
    """Show the tours of the day into which a tour can be merged, and what each does."""
    here, route = site_context(), route_here()
    with here.store.read() as session:
        tour = one_tour(session, tour_id)
        offered = people.merge_offers(session, here.site, route, tour, now())
    return render_template("tours/merge.html", tour=tour, offered=offered, names=stop_names())


@bp.post("/tours/<int:tour_id>/merge")
@open_to(*PLANNERS)
def merge_tour(tour_id: int) -> Response:
    """Merge a tour into another one."""
    here, target = site_context(), fields.whole("to") or 0
    work = partial(people.merge_tours, site=here.site, source=tour_id, target=target)
    run(here.store, partial(work, revision=fields.whole("revision") or 0, **who_changes()))
    return redirect(url_for("tours.group", tour_id=target), 303)


@bp.get("/tours/<int:tour_id>/shorten")
@open_to(*PLANNERS)
def shorten_form(tour_id: int) -> str:
    """Show the ways to shorten a tour by the minutes of `?minutes=`, and what each does."""
    return _ways_page(tour_id, request.args.get("minutes", ""))


@bp.post("/tours/<int:tour_id>/shorten")
@open_to(*PLANNERS)
def shorten_tour(tour_id: int) -> Response:
    """Shorten a tour in a way that was shown, or give it the whole route again; then show its walk or it."""
    here, minutes = site_context(), fields.whole("minutes")
    given: dict[str, Any] = {"tour_id": tour_id, "minutes": minutes, "way": fields.text("way"), "now": now()}
    work = partial(shortening.shorten_tour, site=here.site, route=route_here(), **given)
    revision, by = fields.whole("revision") or 0, access.require_person().id
    try:
        on_walk = run(here.store, partial(work, revision=revision, by=by))
    except shortening.WayGone as gone:
        return make_response(_ways_page(tour_id, str(minutes or ""), sentence(gone, words())), gone.status)
    return redirect(url_for("tours.walk" if on_walk else "tours.group", tour_id=tour_id), 303)


def _ways_page(tour_id: int, asked: str, wrong: str = "") -> str:
    here = site_context()
    with here.store.read() as session:
        tour = one_tour(session, tour_id)
        offer = shortening.ways(session, here.site, route_here(), tour, fields.digits(asked), now())
    return render_template("tours/shorten.html", tour=tour, offer=offer, names=stop_names(), wrong=wrong)
