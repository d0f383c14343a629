"""Pages for a person's request about their own data: searched for, shown to be printed, and erased."""

from functools import partial

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response

from kiosk.site.products import allergen_names
from kiosk.store.engine import run
from kiosk.tours.personal_data import records
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.formats import parse_day

bp = Blueprint("personal_data", __name__, template_folder="templates", url_prefix="/staff/personal-data")


@bp.get("")
@open_to("manager")
def search() -> str:
    """Ask for a guest's day and number, or a name."""
    return render_template("personal_data/search.html", typed={}, wrong={}, found=None)


@bp.post("")
@open_to("manager")
def search_result() -> str:
    """List the bookings that fit; what was typed stays out of the address and its logs."""
    typed = {name: forms.text(name) for name in ("day", "number", "name")}
    day, number, wrong = parse_day(typed["day"]), forms.whole("number"), {}
    if typed["day"] and day is None:
        wrong["day"] = words().gettext("{typed} is no day. Write it like 2026-06-30.", typed=typed["day"])
    if typed["number"] and number is None:
        wrong["number"] = words().gettext("{typed} is no guest number.", typed=typed["number"])
    if not wrong and not typed["name"] and day is None:
        wrong["day"] = words().gettext("Give a day, a day and a guest number, or a name.")
    found = None
    if not wrong:
        with site_context().store.read() as session:
            found = records.search(session, site_context().site, day, number, typed["name"])
    return render_template("personal_data/search.html", typed=typed, wrong=wrong, found=found)


@bp.get("/<int:booking_id>")
@open_to("manager")
def kept(booking_id: int) -> str:
    """Show everything that is kept of a booking and its guests, to be printed or erased."""
    with site_context().store.read() as session:
        found = records.kept_of_booking(session, booking_id)
    return render_template(
        "personal_data/kept.html",
        kept=found,
        allergen_names=allergen_names,
        described=lambda entry: records.described(entry, site_context().site, words()),
        today=site_context().site.service_day(now()),
    )


@bp.post("/<int:booking_id>/erase")
@open_to("manager")
def erase(booking_id: int) -> Response:
    """Empty what is personal of one guest, or of the booking with all its guests."""
    person, guest_id = access.require_person(), forms.whole("guest")
    work = partial(records.erase, site=site_context().site, booking_id=booking_id, guest_id=guest_id)
    run(site_context().store, partial(work, by=person.id, at=now()))
    return redirect(url_for("personal_data.kept", booking_id=booking_id), 303)
