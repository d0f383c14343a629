"""The page of the set-up list, its ticks, and its sheet of paper."""

from datetime import timedelta
from functools import partial

from flask import redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.entries.pages import form_origin
from kiosk.site.products import allergen_names
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tours.blueprint import STEPPERS, bp, sees_names, stop_names
from kiosk.tours.setup.lines import SetUp, set_up, tick
from kiosk.tours.setup.text import list_text, set_up_pdf
from kiosk.web import forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import paper_asked, pdf_answer
from kiosk.words import formats
from kiosk.words.formats import parse_day


@bp.get("/setup")
@open_to(*STEPPERS)
def set_up_list() -> str:
    """Show what the tours of today, or of the day that `?day=` names, need."""
    here = site_context()
    with here.store.read() as session:
        listed = _listed(session)
    return render_template(
        "tours/set_up.html",
        listed=listed,
        text=list_text(listed, here.site, stop_names(), words()),
        stop_names=stop_names(),
        today=here.site.service_day(now()),
        one_day=timedelta(days=1),
        new_key=new_key,
        allergen_names=allergen_names,
    )


@bp.post("/setup")
@open_to(*STEPPERS)
def tick_line() -> Response:
    """Record that one line is set out, or not any more."""
    line, done, origin, at = forms.text("line"), forms.text("done") == "yes", form_origin(), now()

    def work(session: Session) -> None:
        tick(session, _listed(session), line, done=done, origin=origin, now=at)

    run(site_context().store, work)
    return redirect(url_for("tours.set_up_list", day=request.args.get("day")) + f"#{line}", 303)


@bp.get("/setup.pdf")
@open_to(*STEPPERS)
def set_up_sheet() -> Response:
    """Answer the list of a day on paper."""
    here, _ = site_context(), words().gettext
    with here.store.read() as session:
        listed = _listed(session)
    stops = [stop_names().get(slug, slug) for slug in listed.closed]
    notes = [_("Serving: {names}", names=formats.joined(listed.servers, words()))] if listed.servers else []
    notes += [_("Closed: {stops}", stops=formats.joined(stops, words()))] if stops else []
    text = list_text(listed, here.site, stop_names(), words())
    pdf = set_up_pdf(listed, text, notes, here.site, words(), paper_asked())
    return pdf_answer(pdf, f"setup-{listed.day}")


def _listed(session: Session) -> SetUp:
    here = site_context()
    day = parse_day(request.args.get("day", "")) or here.site.service_day(now())
    levels = here.open_bottles(session, here.site)
    read = partial(set_up, session, here.site, here.content.stops, day, now(), levels)
    return read(with_needs=sees_names(day))
