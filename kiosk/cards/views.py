"""The list of stop signs, and each sign as a PDF."""

from flask import Blueprint, Response, abort, render_template, request

from kiosk.cards import listing
from kiosk.cards.stop_sign import stop_sign_pdf
from kiosk.web.access import open_to
from kiosk.web.context import site_context, words
from kiosk.web.page import paper_asked, pdf_answer

bp = Blueprint("cards", __name__, template_folder="templates")

PRINTERS = ("guide", "bar", "production", "manager")


@bp.get("/staff/cards")
@open_to(*PRINTERS)
def cards() -> str:
    """List the signs that can be printed, or say what has to be set first."""
    here = site_context()
    return render_template(
        "cards/list.html", listing=listing.list_stop_signs(here.site, here.content, words())
    )


@bp.get("/staff/cards/<slug>.pdf")
@open_to(*PRINTERS)
def card(slug: str) -> Response:
    """Answer one stop's sign; `paper` a4 or letter, `language` a language or both, `ink` one: black only."""
    here = site_context()
    paper = paper_asked()
    languages = listing.languages_of(here.site, request.args.get("language", listing.BOTH))
    if slug not in here.content.stops or not languages:
        abort(404)
    chosen = [here.words[code] for code in languages]
    number = list(here.content.stops).index(slug) + 1
    one_ink = request.args.get("ink") == "one"
    pdf = stop_sign_pdf(here.site, here.content.stops[slug], number, chosen, paper, one_ink=one_ink)
    return pdf_answer(pdf, f"{slug}-{'-'.join(languages)}-{paper}")
