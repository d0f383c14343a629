"""Pages on which a manager or a guide plans tours.

A refused form is shown again with what was typed and a sentence beside each wrong field.
"""

from datetime import timedelta
from functools import partial

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.store.engine import run
from kiosk.tours.blueprint import PLANNERS, bp, route_here, stop_names, who_changes
from kiosk.tours.calendar import series
from kiosk.tours.calendar.series import RestEffects
from kiosk.tours.day import one_tour
from kiosk.tours.planning import forms, tours
from kiosk.tours.planning.bookings import canceled_bookings
from kiosk.tours.planning.effects import NEW, Effects, Walk, effects_of, free_starts, walk_of, walks_of
from kiosk.tours.planning.forms import REST, TOUR_FIELDS, Typed, typed_form
from kiosk.tours.planning.tours import TourDraft, TourFaults
from kiosk.tours.route import planned_route
from kiosk.web import forms as fields
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.formats import parse_day


@bp.get("/tours/new")
@open_to(*PLANNERS)
def new_tour() -> str:
    """Show the form of a new tour of today, or of the day that `?day=` names."""
    site = site_context().site
    soon = now().replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    day = parse_day(request.args.get("day", ""))
    if day and day != site.service_day(now()):
        opens = site.opening_of(day) or (site.day_bounds(day),)
        soon = opens[0][0] if site.opening else opens[0][0].replace(hour=10)
    return _tour_page(forms.blank_tour(site, soon))


@bp.post("/tours/new")
@open_to(*PLANNERS)
def add_tour() -> Response:
    """Record a new tour."""
    here, sent = site_context(), _typed_tour()
    draft = forms.parse_tour(sent, here.site)
    if effects := _unread_effects(sent, draft, None):
        return make_response(_tour_page(sent, effects=effects), 409)
    try:
        tour_id = run(here.store, lambda session: tours.add_tour(session, here.site, draft, **who_changes()))
    except TourFaults as faults:
        return make_response(_tour_page(sent, faults=faults), faults.status)
    return redirect(url_for("tours.group", tour_id=tour_id), 303)


@bp.get("/tours/<int:tour_id>/change")
@open_to(*PLANNERS)
def edit_tour(tour_id: int) -> str:
    """Show the form of a tour filled in."""
    with site_context().store.read() as session:
        tour = one_tour(session, tour_id)
    return _tour_page(forms.saved_tour(tour, site_context().site), tour_id)


@bp.post("/tours/<int:tour_id>/change")
@open_to(*PLANNERS)
def change_tour(tour_id: int) -> Response:
    """Save a changed tour."""
    here, sent = site_context(), _typed_tour()
    draft, revision = forms.parse_tour(sent, here.site), fields.whole("revision") or 0
    given = {"site": here.site, "tour_id": tour_id, "draft": draft, **who_changes()}
    work = partial(tours.change_tour, revision=revision, **given)
    try:
        if effects := _unread_effects(sent, draft, tour_id):
            return make_response(_tour_page(sent, tour_id, effects=effects), 409)
        run(here.store, partial(series.change_rest, **given) if sent.texts["apply"] == REST else work)
    except TourFaults as faults:
        return make_response(_tour_page(sent, tour_id, faults), faults.status)
    return redirect(url_for("tours.group", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/cancel")
@open_to(*PLANNERS)
def cancel_tour(tour_id: int) -> Response:
    """Cancel a tour, or bring a canceled one back."""
    revision, why, change = fields.whole("revision") or 0, fields.text("why"), who_changes()
    if fields.text("act") == "bring-back":
        if (effects := _effects_of_saved(tour_id)) and fields.text("seen") != effects.mark:
            return make_response(_bring_back_page(tour_id, effects), 409)
        run(site_context().store, lambda s: tours.bring_back_tour(s, tour_id, revision, **change))
    elif fields.text("apply") == REST:
        run(site_context().store, lambda s: series.cancel_rest(s, tour_id, why, **change))
    else:
        run(site_context().store, lambda s: tours.cancel_tour(s, tour_id, revision, why, **change))
    return redirect(url_for("tours.group", tour_id=tour_id), 303)


def _typed_tour() -> Typed:
    return typed_form(request.form, request.form.getlist("language"), TOUR_FIELDS)


def _unread_effects(sent: Typed, draft: TourDraft, tour_id: int | None) -> Effects | RestEffects | None:
    """Return what a typed tour does to others where that is a warning which the form has not shown yet."""
    here, site = site_context(), site_context().site
    if draft.starts_at is None or draft.places is None:
        return None
    with here.store.read() as session:
        tour = one_tour(session, tour_id) if tour_id else None
        route = planned_route(route_here(), tour.plan if tour else None)
        seen: Effects | RestEffects
        if tour and sent.texts["apply"] == REST:
            seen = series.rest_effects(session, site, route_here(), tour, draft, now())
        else:
            walk = Walk(tour.letter if tour else NEW, draft.starts_at, draft.places, route, draft.flight_id)
            seen = effects_of(session, site, route_here(), walk, now(), without=[tour_id] if tour_id else [])
    return seen if seen.warns and seen.mark != sent.texts["seen"] else None


def _effects_of_saved(tour_id: int) -> Effects | None:
    """Return what a saved tour does to others beside them, where that is a warning."""
    here = site_context()
    with here.store.read() as session:
        tour = one_tour(session, tour_id)
        walks = walks_of(session, here.site, route_here(), [tour], now())
        walk = walks.get(tour_id) or walk_of(tour, route_here())
        seen = effects_of(session, here.site, route_here(), walk, now(), without=[tour_id])
    return seen if seen.warns else None


def _bring_back_page(tour_id: int, effects: Effects) -> str:
    with site_context().store.read() as session:
        tour = one_tour(session, tour_id)
    return render_template("tours/bring_back.html", tour=tour, effects=effects, names=stop_names())


def _tour_page(
    typed: Typed,
    tour_id: int | None = None,
    faults: TourFaults | None = None,
    effects: Effects | RestEffects | None = None,
) -> str:
    here = site_context()
    with here.store.read() as session:
        tour = None if tour_id is None else one_tour(session, tour_id)
        choices = forms.tour_choices(session, here.site, words(), now())
        rest = len(series.rest_of_series(session, tour)) if tour else 1
        canceled = canceled_bookings(session, tour.id) if tour else ()
        draft, own = forms.parse_tour(typed, here.site), [tour_id] if tour_id else []
        free = free_starts(session, here.site, route_here(), draft, now(), without=own)
    return render_template(
        "tours/tour_form.html",
        tour=tour,
        typed=typed,
        choices=choices,
        wrong=faults.sentences(words()) if faults else {},
        why={code: word for code, word in tours.WHY.items() if code != tours.MERGED},
        most=tours.MOST_PLACES,
        rest=rest,
        canceled=canceled,
        clashing=_effects_of_saved(tour_id) if tour_id else None,
        effects=effects,
        of_rest=isinstance(effects, RestEffects),
        free=free,
        names=stop_names(),
    )
