"""Pages of the flights: the list, a flight with its plan for a group, and the form of a flight."""

from datetime import time
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy import Row
from werkzeug.wrappers import Response

from kiosk.store.engine import run
from kiosk.tasting.blueprint import CLOSERS, POURERS, bp
from kiosk.tasting.bottles.views import room_asked, run_use_case
from kiosk.tasting.flights import form as flight_form
from kiosk.tasting.flights import planning
from kiosk.tasting.flights.form import TypedFlight
from kiosk.tasting.flights.plan import (
    TastingSetup,
    allergens_named,
    plan_of_flight,
    plans_of_flights,
    tasting_setup,
    upcoming_tours,
)
from kiosk.tasting.flights.planning import FlightFaults
from kiosk.tasting.flights.text import flight_text
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words


@bp.get("/flights")
@open_to(*POURERS)
def flights() -> str:
    """Show every flight with its glasses, how it fits the rules and its tours, the archived ones last."""
    here, at = site_context(), now()
    with here.store.read() as session:
        tours = upcoming_tours(session, here.site, at)
        plans = plans_of_flights(session, here.site, _setup(None), at)
    texts = [flight_text(plan, [], here.site, words()) for plan in plans]
    return render_template("flights/flights.html", flights=texts, tours=tours)


@bp.get("/flights/new")
@open_to(*CLOSERS)
def new_flight() -> str:
    """Show the form of a new flight."""
    return _new_page(flight_form.blank_form())


@bp.post("/flights/new")
@open_to(*CLOSERS)
def plan_flight() -> Response:
    """Save a new flight."""
    sent = flight_form.read_form(request.form, site_context().site.codes)
    draft = flight_form.draft_of(sent, site_context().site)
    try:
        flight_id = run_use_case(planning.save_flight, draft, **_change())
    except FlightFaults as faults:
        return make_response(_new_page(flight_form.with_faults(sent, faults, words())), faults.status)
    return redirect(url_for("tasting.flight", flight_id=flight_id), 303)


@bp.get("/flights/<int:flight_id>")
@open_to(*POURERS)
def flight(flight_id: int) -> str:
    """Show a flight with its plan for a group."""
    return _flight_page(flight_id, None)


@bp.post("/flights/<int:flight_id>")
@open_to(*CLOSERS)
def change_flight(flight_id: int) -> Response:
    """Save a changed flight; what was poured from it stays as it is."""
    sent = flight_form.read_form(request.form, site_context().site.codes)
    draft, revision = flight_form.draft_of(sent, site_context().site), forms.whole("revision") or 0
    try:
        run_use_case(planning.save_flight, draft, flight_id=flight_id, revision=revision, **_change())
    except FlightFaults as faults:
        again = flight_form.with_faults(sent, faults, words())
        return make_response(_flight_page(flight_id, again), faults.status)
    return redirect(url_for("tasting.flight", flight_id=flight_id), 303)


@bp.post("/flights/<int:flight_id>/archive")
@open_to(*CLOSERS)
def archive_flight(flight_id: int) -> Response:
    """Archive a flight or bring it back into use."""
    archived, revision, change = forms.text("archived") == "yes", forms.whole("revision") or 0, _change()
    run(site_context().store, lambda s: planning.set_archived(s, flight_id, revision, archived, **change))
    return redirect(url_for("tasting.flight", flight_id=flight_id), 303)


@bp.post("/flights/<int:flight_id>/tours/<int:tour_id>")
@open_to(*CLOSERS)
def give_flight(flight_id: int, tour_id: int) -> Response:
    """Assign the flight to a tour."""
    revision, change = forms.whole("revision") or 0, _change()
    run(site_context().store, lambda s: planning.assign_to_tour(s, flight_id, tour_id, revision, **change))
    return redirect(url_for("tasting.flight", flight_id=flight_id, _anchor="tours"), 303)


def _new_page(typed: TypedFlight) -> str:
    with site_context().store.read() as session:
        choices = flight_form.choices(session, site_context().site, words())
    return render_template("flights/new.html", typed=typed, choices=choices)


def _flight_page(flight_id: int, typed: TypedFlight | None) -> str:
    here, at = site_context(), now()
    with here.store.read() as session:
        tours = upcoming_tours(session, here.site, at)
        tour = next((each for each in tours if each.id == request.args.get("tour", type=int)), None)
        plan = plan_of_flight(session, here.site, flight_id, _setup(tour), at)
        allergens = allergens_named(session, tour.id) if tour else []
        form = typed or flight_form.form_of_flight(session, flight_id, plan.flight.name, plan.flight.names)
        choices = flight_form.choices(session, here.site, words())
    text = flight_text(plan, allergens, here.site, words())
    return render_template(
        "flights/flight.html", text=text, flight=plan, tour=tour, tours=tours, typed=form, choices=choices
    )


def _setup(tour: Row[Any] | None) -> TastingSetup:
    """Return the group for which the flight is planned: the tour's, changed by the page's own fields."""
    sent = request.args
    begins = _time(sent.get("begins", ""))
    return tasting_setup(
        site_context().site,
        tour,
        room_asked(),
        guests=sent.get("guests", type=int),
        begins=begins,
        servers=sent.get("servers", type=int),
        preset="preset" in sent,
        now=now(),
    )


def _time(text: str) -> time | None:
    try:
        return time.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        return None


def _change() -> dict[str, Any]:
    """Return who changes a row by this request, and when."""
    return {"by": access.require_person().id, "at": now()}
