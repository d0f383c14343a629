"""Pages of the house: its plan with the groups, and stops that are closed and opened again."""

from datetime import datetime, timedelta
from functools import partial

from flask import abort, make_response, redirect, render_template, url_for
from werkzeug.wrappers import Response

from kiosk.entries.errors import EntryError
from kiosk.entries.pages import form_origin
from kiosk.figures.tours.closures import REASONS
from kiosk.staff.people import ROLE_NAMES, ROLES
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tours.blueprint import bp, stop_names
from kiosk.tours.planning.forms import parse_start
from kiosk.tours.walk import closures
from kiosk.tours.walk.house import House, house
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import etag_of, not_modified, theme, under_etag
from kiosk.words.closures import REASON_WORDS
from kiosk.words.errors import sentence


@bp.get("/house")
@open_to(*ROLES)
def house_plan() -> str:
    """Show the plan of the house with its groups and its closed stops."""
    seen, etag = _house_now()
    return render_template("tours/house.html", house=seen, etag=f'W/"{etag}"', **_house_words())


@bp.get("/house/now")
@open_to(*ROLES)
def house_now() -> Response:
    """Answer the part of the plan that changes, or 304 where the screen has it."""
    seen, etag = _house_now()
    if unchanged := not_modified(etag):
        return unchanged
    return under_etag(render_template("tours/_house.html", house=seen, **_house_words()), etag)


def _house_now() -> tuple[House, str]:
    """Return the house as of this minute, and the ETag of what a person sees of it."""
    here, minute = site_context(), now().replace(second=0, microsecond=0)
    with here.store.read() as session:
        seen = house(session, here.site, minute)
    roles = sorted(access.require_person().roles)
    return seen, etag_of(here.started, words().language, theme(), roles, seen)


@bp.get("/stops/<slug>/close/<reason>")
@open_to(*ROLES)
def close_stop(slug: str, reason: str) -> str:
    """Ask until when a stop is closed for a reason."""
    return _closing_page(slug, reason)


@bp.post("/stops/<slug>/close/<reason>")
@open_to(*ROLES)
def record_closure(slug: str, reason: str) -> Response:
    """Close a stop."""
    here, at, origin = site_context(), now(), form_origin()
    if slug not in here.content.stops or reason not in REASONS:
        abort(404)
    try:
        until = _until(at)
        run(here.store, lambda s: closures.close_stop(s, here.site, slug, reason, until, origin, at))
    except EntryError as refusal:
        return make_response(_closing_page(slug, reason, sentence(refusal, words())), refusal.status)
    return redirect(url_for("tours.house_plan", _anchor=f"closed-{slug}"), 303)


@bp.post("/closures/<key>/reopen")
@open_to(*ROLES)
def reopen_stop(key: str) -> Response:
    """Open a closed stop again."""
    run(site_context().store, partial(closures.reopen_stop, closure_key=key, origin=form_origin(), now=now()))
    return redirect(url_for("tours.house_plan"), 303)


def _closing_page(slug: str, reason: str, wrong: str = "") -> str:
    stop = site_context().content.stops.get(slug) or abort(404)
    rule = REASONS.get(reason) or abort(404)
    asked = {"stop": stop, "reason": reason, "rule": rule, "wrong": wrong, "typed": forms.text("until")}
    times = [(minutes, now() + timedelta(minutes=minutes)) for minutes in closures.minutes_offered(reason)]
    return render_template("tours/close_stop.html", **asked, times=times, **_house_words())


def _until(at: datetime) -> datetime | None:
    """Return until when a stop is closed, as the form's button says; None for until it is opened again."""
    asked, site = forms.text("for"), site_context().site
    if asked == "typed":
        until = parse_start(forms.text("until"), site.zone)
        if until is None or until <= at:
            raise closures.UntilPassed(typed=forms.text("until"))
        return until
    if asked == "day":
        return site.day_bounds(site.service_day(at))[1]
    minutes = forms.digits(asked)
    return None if minutes is None else at + timedelta(minutes=minutes)


def _house_words() -> dict[str, object]:
    """Return what the pages write: reasons and who opens again, a key for each form, the stops and names."""
    shared = {"reason_words": REASON_WORDS, "reopeners": _reopeners, "new_key": new_key}
    return shared | {"names": stop_names(), "stops": site_context().content.stops.values()}


def _reopeners(reason: str) -> str:
    """Return the roles that may open a stop again that was closed for a reason, as text."""
    roles = [
        words().gettext(name) for role, name in ROLE_NAMES.items() if role in REASONS[reason].reopened_by
    ]
    return ", ".join(roles)
