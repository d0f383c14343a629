"""The page of the service rules: those in force, today's restrictions, and every confirmed version."""

from collections.abc import Mapping

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.entries.pages import form_origin
from kiosk.staff import sessions
from kiosk.staff.errors import StaffError
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tasting.blueprint import POURERS, bp
from kiosk.tasting.bottles.views import room_choices
from kiosk.tasting.errors import TastingError
from kiosk.tasting.rules import policy, restriction_form
from kiosk.tasting.rules.text import confirmed_versions, rule_lines, unconfirmed_changes
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence


@bp.get("/rules")
@open_to(*POURERS)
def rules() -> str:
    """Show the service rules of the site's file, whether they are in force, and today's restrictions."""
    return _page({})


@bp.post("/rules")
@open_to("manager")
def confirm_rules() -> Response:
    """Put the rules of the site's file in force; the PIN is asked again."""
    person, device = access.require_person(), access.require_device()
    try:
        sessions.check_pin(
            site_context().store, site_context().site, person.id, device.id, forms.text("pin"), now()
        )
    except StaffError as refusal:
        return make_response(_page({"confirm": sentence(refusal, words())}), refusal.status)
    with site_context().store.write() as session:
        policy.confirm(session, site_context().site, key=new_key(), by=person.id, at=now())
    return redirect(url_for("tasting.rules"), 303)


@bp.post("/rules/today")
@open_to("manager")
def restrict_today() -> Response:
    """Make the rules stricter for this service day; the PIN is asked again."""
    person, device = access.require_person(), access.require_device()
    here, at, room, why = site_context(), now(), forms.text("room"), forms.text("why")
    try:
        restriction = restriction_form.parse_restriction(
            forms.text("rule"), forms.text("amount"), here.site, words(), at
        )
        with here.store.read() as session:
            policy.check_restriction(session, here.site, room, restriction, why)
        sessions.check_pin(here.store, here.site, person.id, device.id, forms.text("pin"), at)
        run(
            here.store,
            lambda session: policy.tighten_for_day(session, here.site, form_origin(), room, restriction, why),
        )
    except (StaffError, TastingError) as refusal:
        return make_response(_page({"today": sentence(refusal, words())}), refusal.status)
    return redirect(url_for("tasting.rules"), 303)


def _page(wrong: Mapping[str, str]) -> str:
    site = site_context().site
    with site_context().store.read() as session:
        in_force = policy.in_force(session, site)
        given = policy.of_day(session, site.service_day(now()))
        earlier = confirmed_versions(session, site, words())
        waiting = None if in_force else unconfirmed_changes(session, site, words())
    return render_template(
        "rules/rules.html",
        in_force=in_force,
        rules=rule_lines(site.policy, site, words()),
        given=[(one, restriction_form.restriction_line(one, site, words())) for one in given],
        choices=restriction_form.choices(site, words()),
        rooms=[("", words().gettext("every room")), *room_choices()],
        versions=earlier,
        waiting=waiting,
        wrong=wrong,
        typed=request.form,
        new_key=new_key,
    )
