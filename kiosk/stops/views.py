"""The stops' pages: guests' under their language, guides' under /staff/, and the addresses in codes."""

from collections.abc import Mapping

from flask import Blueprint, abort, jsonify, make_response, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from kiosk.figures.tours.closures import Closure
from kiosk.paper.pages import pictures_pdf
from kiosk.paper.sheet import svg
from kiosk.site.content.loading import Stop
from kiosk.site.content.symbols import Symbol, symbols
from kiosk.staff.people import ROLES
from kiosk.stops import guest_link, stop_pages
from kiosk.stops import wall as walls
from kiosk.stops.plate_sheet import plate_sheet
from kiosk.stops.stop_pages import Linker
from kiosk.web import language
from kiosk.web.access import open_to
from kiosk.web.context import figure_reader, now, page_reader, site_context, words
from kiosk.web.page import etag_of, guest_page, not_modified, paper_asked, pdf_answer
from kiosk.words import formats
from kiosk.words.catalogs import N_
from kiosk.words.closures import REASON_WORDS, closed_sentence

bp = Blueprint("stops", __name__, template_folder="templates")

PRIVATE = {
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow",
    "Referrer-Policy": "no-referrer",
}
BOTH = "both"


@bp.app_template_filter("symbols")
def _symbols(stop: Stop) -> list[Symbol]:
    return symbols(stop, words())


@bp.context_processor
def _stops() -> dict[str, object]:
    return {"stops": site_context().content.stops.values()}


def _meaning(term: str) -> str:
    return url_for("stops.glossary", lang=words().language, _anchor=term)


@bp.get("/<lang>/")
@open_to("anyone")
def front(lang: str) -> Response:
    """Welcome a visitor and show the route."""

    def rendered() -> str:
        return render_template("stops/front.html", front_figures=stop_pages.front_figures(page_reader()))

    return guest_page(rendered)


@bp.get("/<lang>/stops/<slug>")
@open_to("anyone")
def stop(lang: str, slug: str) -> Response:
    """Show a stop to guests."""
    here, closed = site_context(), _closed().get(slug)

    def rendered() -> str:
        linker = Linker(here.content.glossary, words().language, _meaning)
        page = stop_pages.guest_page(here.content, slug, page_reader(), here.groups_on_walk, linker.linked)
        why = closed and closed_sentence(closed, here.site.zone, words(), now())
        return render_template("stops/stop.html", page=page or abort(404), closed=why)

    return guest_page(rendered, closed.key if closed else "")


def _closed() -> Mapping[str, Closure]:
    """Return the closure that holds now at each closed stop."""
    return site_context().closed_stops(figure_reader())


@bp.get("/s/<slug>")
@open_to("anyone")
def stop_code(slug: str) -> Response:
    """Redirect from a stop's printed code to its page in the reader's language."""
    if slug not in site_context().content.stops:
        abort(404)
    return redirect(url_for("stops.stop", lang=words().language, slug=slug))


@bp.get("/<lang>/glossary")
@open_to("anyone")
def glossary(lang: str) -> Response:
    """Show the glossary in the order of the reader's language."""

    def rendered() -> str:
        letters = stop_pages.by_letter(site_context().content.glossary, words().language)
        return render_template("stops/glossary.html", letters=letters)

    return guest_page(rendered)


@bp.get("/g/<token>")
@open_to("anyone")
def own_page(token: str) -> Response:
    """Show a guest's own page, or that it has ended; a wrong address gets the same answer."""
    with site_context().store.read() as session:
        page = guest_link.own_page(session, site_context().site, token, now())
    if page:
        language.speak_by_link(page.language)
    template = "stops/own.html" if page else "stops/ended.html"
    answer = make_response(render_template(template, page=page))
    answer.headers.update(PRIVATE)
    return answer


@bp.get("/staff/guests/<int:guest_id>/own-page")
@open_to("guide", "bar", "manager")
def own_page_code(guest_id: int) -> Response:
    """Show a guest the code of their own page, and staff the way to it."""
    here = site_context()
    with here.store.read() as session:
        number, token = guest_link.token_of(session, here.site, guest_id, now())
    path = url_for("stops.own_page", token=token)
    address = (here.site.public_address or request.host_url.rstrip("/")) + path
    title = words().gettext("The page of guest {number}", number=number)
    code = Markup(svg(address, title, title, "own-page"))
    answer = make_response(render_template("stops/own_code.html", title=title, code=code, path=path))
    answer.headers.update(PRIVATE)
    return answer


@bp.get("/staff/stops")
@open_to(*ROLES)
def guides() -> str:
    """List the guide pages of the stops."""
    return render_template("stops/guides.html", closed=_closed())


@bp.get("/staff/stops/<slug>")
@open_to("guide", "bar", "trainee", "production", "manager")
def guide(slug: str) -> str:
    """Show a stop to a guide in one language, or in all side by side (`?language=both`)."""
    here, wanted = site_context(), request.args.get("language", words().language)
    codes = list(here.words) if wanted == BOTH else [wanted if wanted in here.words else words().language]
    readers = [page_reader(here.words[code]) for code in codes]
    site = (here.content, here.site.route, slug)
    pages = [stop_pages.guide_page(*site, one, here.groups_on_walk) or abort(404) for one in readers]
    day, month = (request.args.get(part, type=int) for part in ("day", "month"))
    with here.store.read() as session:
        pictures = here.stop_pictures(session, slug, readers[0])
    return render_template(
        "stops/guide.html",
        pages=pages,
        slug=slug,
        wanted=wanted,
        closed=_closed().get(slug),
        reason_words=REASON_WORDS,
        stop_pictures=pictures,
        birthday=stop_pages.birthday_answer(page_reader(), here.casks_filled_on, day, month),
    )


@bp.get("/staff/stops/<slug>/pictures.pdf")
@open_to("guide", "bar", "trainee", "production", "manager")
def stop_paper(slug: str) -> Response:
    """Answer the pictures of a stop as a PDF."""
    stop = site_context().content.stops.get(slug) or abort(404)
    with site_context().store.read() as session:
        pictures = site_context().stop_pictures(session, slug, page_reader()) or abort(404)
    title = stop.names[words().language]
    pdf = pictures_pdf(title, (), pictures, paper_asked(), site_context().site.name, words().language)
    return pdf_answer(pdf, f"{slug}-{words().language}")


@bp.get("/staff/stops/<slug>/plate.pdf")
@open_to("guide", "bar", "trainee", "production", "manager")
def plate_paper(slug: str) -> Response:
    """Answer the plate of a stop on a sheet; `paper`, `language` and `ink` as for its sign."""
    here, wanted = site_context(), request.args.get("language", BOTH)
    codes = list(here.words)[:2] if wanted == BOTH else [wanted]
    readers = [page_reader(here.words[code]) for code in codes if code in here.words]
    site = (here.site, here.content, slug, readers, here.groups_on_walk, now(), paper_asked())
    pdf = plate_sheet(*site, one_ink=request.args.get("ink") == "one") or abort(404)
    return pdf_answer(pdf, f"{slug}-plate-{'-'.join(codes)}")


@bp.get("/staff/wall")
@open_to("device", "wall")
def wall() -> str:
    """Show the screen of the hall; `?screen=` is where a browser without a script has come to."""
    spoken = site_context().words
    found = walls.screens(site_context().content, [page_reader(one) for one in spoken.values()])
    told = N_("No connection: these values are up to {n} min old.")
    return render_template(
        "stops/wall.html",
        screens=found,
        shown=request.args.get("screen", 0, type=int) % len(found),
        away={code: one.gettext(told, n="{n}") for code, one in spoken.items()},
        slugs=list(site_context().content.stops),
        clock=formats.time(now(), site_context().site.zone, next(iter(spoken.values()))),
        turn_s=walls.TURN_S,
        ask_s=walls.ASK_S,
    )


@bp.get("/staff/wall.json")
@open_to("device", "wall")
def wall_figures() -> Response:
    """Return what the wall shows now, or 304, for which nothing is rendered, where the screen has it."""
    figures = figure_reader()
    etag = etag_of(figures.version())
    if unchanged := not_modified(etag):
        return unchanged
    readers = [page_reader(one) for one in site_context().words.values()]
    answer = jsonify(screens=walls.screens(site_context().content, readers))
    if figures.current:  # else another request is computing a figure of this version
        answer.set_etag(etag, weak=True)
    return answer
