"""Pages of the calendar: a week at a glance, the settings of a day, and patterns of tours."""

from datetime import date, timedelta
from functools import partial
from typing import Any

from babel.dates import get_day_names
from flask import abort, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.staff.people import ROLES, members
from kiosk.store.engine import run
from kiosk.tours.blueprint import PLANNERS, bp, route_here, stop_names
from kiosk.tours.calendar import days, feed, patterns, series
from kiosk.tours.calendar.blueprint import feed_bp
from kiosk.tours.calendar.days import DayFaults
from kiosk.tours.calendar.forms import TypedPattern, blank_pattern, parse_pattern, typed_pattern
from kiosk.tours.calendar.patterns import LINES, PreviewOutdated
from kiosk.tours.calendar.week import week_days
from kiosk.tours.day import day_tours
from kiosk.tours.planning import tours
from kiosk.tours.planning.forms import choice, tour_choices
from kiosk.tours.planning.tours import TourFaults
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import TooOften, now, site_context, words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence
from kiosk.words.formats import parse_day

MOST_LINES = 20
"""The most lines of one kind that a preview lists."""
OPEN = N_("open")
NOT_DECIDED = N_("not decided")


@bp.get("/week")
@open_to(*ROLES)
def week() -> str:
    """Show the tours of the week of today, or of the day that `?day=` names."""
    site = site_context().site
    today = site.service_day(now())
    asked = parse_day(request.args.get("day", "")) or today
    with site_context().store.read() as session:
        shown = week_days(session, site, route_here(), days.week_of(asked), now())
    first_open = next((one.known.day for one in shown if one.known.day >= today), None)
    here = {"days": shown, "today": today, "one_week": timedelta(days=7), "first_open": first_open}
    made = forms.digits(request.args.get("made", "")) or 0
    may_plan = access.require_person().has(*PLANNERS)
    return render_template("tours/week.html", **here, made=made, may_plan=may_plan)


@bp.get("/days/<day>")
@open_to(*PLANNERS)
def service_day(day: str) -> str:
    """Show the settings of a service day."""
    return _day_page(_day(day), {}, None)


@bp.post("/days/<day>")
@open_to(*PLANNERS)
def save_service_day(day: str) -> Response:
    """Close or open a service day, and name its people."""
    here, of, revision = site_context(), _day(day), forms.whole("revision") or 0
    typed = {name: forms.text(name) for name in ("closed_why", "first_aider", "key_holder")}
    given: dict[str, Any] = {
        "closed_why": typed["closed_why"],
        "cancel_tours": bool(forms.text("cancel_tours")),
    }
    given |= {f"{name}_id": choice(typed[name]) for name in ("first_aider", "key_holder")}
    work = partial(series.close_or_open_day, site=here.site, day=of, revision=revision, **given)
    try:
        run(here.store, partial(work, by=access.require_person().id, at=now()))
    except DayFaults as faults:
        return make_response(_day_page(of, faults.sentences(words()), typed), faults.status)
    return redirect(url_for("tours.week", day=of, _anchor=f"day-{of.isoformat()}"), 303)


def _day(text: str) -> date:
    return parse_day(text) or abort(404)


def _day_page(day: date, wrong: dict[str, str], typed: dict[str, str] | None) -> str:
    here, _ = site_context(), words().gettext
    with here.store.read() as session:
        known = days.service_day(session, here.site, day)
        of_day = [row for row in day_tours(session, here.site, day) if row.cancelled_at is None]
        people = [(str(one.id), one.name) for one in members(session, here.site, now())]
    saved = {"closed_why": known.closed_why, "first_aider": str(known.first_aider_id or "")}
    return render_template(
        "tours/service_day.html",
        known=known,
        wrong=wrong,
        chosen=typed or {**saved, "key_holder": str(known.key_holder_id or "")},
        reasons=[("", _(OPEN)), *((code, _(word)) for code, word in days.WHY_CLOSED.items())],
        people=[("", _(NOT_DECIDED)), *people],
        open_tours=len(of_day),
        booked=sum(row.booked for row in of_day),
    )


@bp.get("/tours/pattern")
@open_to(*PLANNERS)
def new_pattern() -> str:
    """Show the form of a pattern."""
    site = site_context().site
    first = parse_day(request.args.get("day", "")) or site.service_day(now())
    return _pattern_page(blank_pattern(site, first))


@bp.post("/tours/pattern")
@open_to(*PLANNERS)
def plan_pattern() -> Response:
    """Show what a pattern makes, or make it where that was shown."""
    here = site_context()
    typed = typed_pattern(request.form, {n: request.form.getlist(f"days-{n}") for n in range(1, LINES + 1)})
    try:
        pattern = parse_pattern(typed, here.site, here.site.service_day(now()))
        if forms.text("act") == "record":
            return _record(pattern)
        with here.store.read() as session:
            seen = patterns.preview(session, here.site, route_here(), pattern, now())
    except TourFaults as faults:
        return make_response(_pattern_page(typed, wrong=faults.sentences(words())), faults.status)
    except PreviewOutdated as outdated:
        return make_response(
            _pattern_page(typed, wrong={"form": sentence(outdated, words())}), outdated.status
        )
    return make_response(_pattern_page(typed, seen=seen))


def _record(pattern: patterns.Pattern) -> Response:
    here, shown = site_context(), forms.text("seen")
    given = {"with_clashes": bool(forms.text("with_clashes")), "by": access.require_person().id, "at": now()}
    work = partial(patterns.record_pattern, site=here.site, route=route_here(), pattern=pattern)
    made = run(here.store, partial(work, shown=shown, **given))
    return redirect(url_for("tours.week", day=pattern.first, made=made), 303)


def _pattern_page(
    typed: TypedPattern, *, wrong: dict[str, str] | None = None, seen: patterns.Preview | None = None
) -> str:
    here = site_context()
    with here.store.read() as session:
        choices = tour_choices(session, here.site, words(), now())
    names = get_day_names("abbreviated", locale=words().locale)
    return render_template(
        "tours/pattern.html",
        typed=typed,
        wrong=wrong or {},
        seen=seen,
        choices=choices,
        lines=range(1, LINES + 1),
        weekdays=[(str(n), names[n]) for n in range(7)],
        names=stop_names(),
        most=tours.MOST_PLACES,
        most_lines=MOST_LINES,
    )


@bp.get("/feed")
@open_to(*ROLES)
def feed_page() -> str:
    """Show a person the address of their calendar feed."""
    person, here = access.require_person(), site_context()
    with here.store.read() as session:
        mac = feed.feed_of(session, here.site, person.id)
    path = url_for("calendar.calendar_feed", staff_id=person.id, mac=mac) if mac else ""
    address = (here.site.public_address or request.url_root.rstrip("/")) + path
    return render_template("tours/feed.html", address=address if mac else "")


@bp.post("/feed")
@open_to(*ROLES)
def change_feed() -> Response:
    """Give a person a new address for their feed, or end it."""
    person = access.require_person()
    act = feed.revoke_feed if forms.text("act") == "revoke" else feed.renew_feed
    run(site_context().store, lambda session: act(session, person.id, by=person.id, at=now()))
    return redirect(url_for("tours.feed_page"), 303)


@feed_bp.get("/calendar/<int:staff_id>/<mac>.ics")
@open_to(access.ANYONE)
def calendar_feed(staff_id: int, mac: str) -> Response:
    """Answer the tours as a calendar reads them, under the secret address of a person."""
    here, address = site_context(), request.remote_addr
    if wait := here.wrong_codes.wait_s(address, now()):
        raise TooOften(wait)
    with here.store.read() as session:
        language = feed.reader_of_feed(session, here.site, staff_id, mac, now())
        if language is None:
            here.wrong_codes.count(address, now())
            abort(404)
        document = feed.calendar(session, here.site, route_here(), here.words[language], now())
    return Response(document, mimetype="text/calendar")
