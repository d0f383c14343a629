"""The page of staff's permits, for the manager alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

from flask import make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.staff import people
from kiosk.staff import permits as held_permits
from kiosk.staff.blueprint import bp
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence


@bp.get("/permits")
@open_to("manager")
def permits() -> str:
    """List the permits, what ends soon, and who may not pour without one."""
    return _page({})


@bp.post("/permits")
@open_to("manager")
def add_permit() -> Response:
    """Record a permit that the manager has seen."""
    person, kind, number = forms.whole("person") or 0, forms.text("kind", 40), forms.text("number", 60)
    days, by, at = (_day("valid_from"), _day("valid_until")), _me(), now()

    def work(session: Session) -> int:
        return held_permits.add(session, person, kind, number, days, by=by, at=at)

    return _done(lambda: run(site_context().store, work))


@bp.post("/permits/age")
@open_to("manager")
def seen_of_age() -> Response:
    """Record that somebody is of age to serve, by a document that the manager has seen."""
    person, by, at = forms.whole("person") or 0, _me(), now()

    def work(session: Session) -> int:
        return held_permits.of_age(session, site_context().site, person, by=by, at=at)

    return _done(lambda: run(site_context().store, work))


@bp.post("/permits/<int:permit_id>/take-back")
@open_to("manager")
def take_back_permit(permit_id: int) -> Response:
    """Let a permit hold no more from today on."""
    revision, why, by, at = forms.whole("revision") or 0, forms.text("why"), _me(), now()
    day = site_context().site.service_day(at)

    def work(session: Session) -> None:
        held_permits.take_back(session, permit_id, revision, day, by=by, at=at, why=why)

    return _done(lambda: run(site_context().store, work))


def _done(work: Callable[[], object]) -> Response:
    try:
        work()
    except StaffError as refusal:
        return make_response(_page({refusal.field or "form": sentence(refusal, words())}), refusal.status)
    return redirect(url_for("staff.permits"), 303)


def _me() -> int:
    somebody = access.person()
    assert somebody is not None  # `open_to` lets nobody else through
    return somebody.id


def _day(name: str) -> date | None:
    try:
        return date.fromisoformat(forms.text(name))
    except ValueError:
        return None


def _page(wrong: Mapping[str, str]) -> str:
    site, day = site_context().site, site_context().site.service_day(now())
    with site_context().store.read() as session:
        held = held_permits.listed(session, day)
        here = people.members(session, site, now())
    asked = [site.policy.server_permit] if site.policy.server_permit else []
    return render_template(
        "staff/permits.html",
        permits=held,
        today=day,
        no_end=held_permits.NO_END,
        lacking=held_permits.lacking(site.policy, here, held, day),
        soon=[one for one in held if one.ends_soon(day)],
        people=[(str(one.id), one.name) for one in here],
        kinds=list(dict.fromkeys([*asked, *(one.kind for one in held if not one.age)])),
        typed=request.form,
        wrong=wrong,
    )
