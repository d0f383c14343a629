"""The stops' pages: guests' under their language, guides' under /staff/, and the addresses in codes."""

from __future__ import annotations

from flask import Blueprint, abort, jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.paper.pages import pictures_pdf
from kiosk.production.lineage import lots, origin
from kiosk.production.pictures.making import pictures
from kiosk.site.products import allergens_of
from kiosk.staff.people import ROLES
from kiosk.stops import guest_link, stop_pages, terms
from kiosk.stops import wall as walls
from kiosk.stops.angels import birthday
from kiosk.stops.terms import Linker
from kiosk.web import language
from kiosk.web.access import open_to
from kiosk.web.context import now, page_reader, site_context, words
from kiosk.web.page import paper_asked, pdf_answer
from kiosk.words.catalogs import N_

bp = Blueprint("stops", __name__, template_folder="templates")

PRIVATE = {
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow",
    "Referrer-Policy": "no-referrer",
}
BOTH = "both"


def _meaning(term: str) -> str:
    return url_for("stops.glossary", lang=words().language, _anchor=term)


@bp.get("/<lang>/")
@open_to("anyone")
def front(lang: str) -> str:
    """Welcome a visitor and show the route."""
    who = page_reader()
    return render_template(
        "stops/front.html",
        stops=stop_pages.links(site_context().content, who),
        told=stop_pages.front_figures(who),
    )


@bp.get("/<lang>/stops/<slug>")
@open_to("anyone")
def stop(lang: str, slug: str) -> str:
    """Show a stop to guests."""
    who, content = page_reader(), site_context().content
    linker = Linker(content.glossary, who.words.language, _meaning)
    page = stop_pages.guest_page(content, slug, who, linker.linked) or abort(404)
    return render_template("stops/stop.html", page=page)


@bp.get("/s/<slug>")
@open_to("anyone")
def stop_code(slug: str) -> Response:
    """Go on from a stop's printed code to its page in the reader's language."""
    if slug not in site_context().content.stops:
        abort(404)
    return redirect(url_for("stops.stop", lang=words().language, slug=slug))


@bp.get("/<lang>/glossary")
@open_to("anyone")
def glossary(lang: str) -> str:
    """Show the words of the trade in the order of the reader's language."""
    here = site_context()
    letters = terms.by_letter(here.content.glossary, words().language, here.words)
    return render_template("stops/glossary.html", letters=letters)


@bp.get("/<lang>/products", endpoint="products")
@open_to("anyone")
def product_list(lang: str) -> str:
    """Show what the house pours and sells."""
    return render_template("stops/products.html", products=lots.shelf(site_context().site, words()))


@bp.get("/<lang>/products/<product_id>")
@open_to("anyone")
def product(lang: str, product_id: str) -> str:
    """Show a product with the bottlings that are on record."""
    with site_context().store.read() as session:
        page = lots.product_page(session, site_context().site, product_id, words()) or abort(404)
    return render_template("stops/product.html", page=page)


@bp.get("/<lang>/bottles/<lot>")
@open_to("anyone")
def bottle(lang: str, lot: str) -> str:
    """Show what stands behind a bottle."""
    with site_context().store.read() as session:
        found = lots.find_lot(session, site_context().site, lot) or abort(404)
        past = lots.behind_lot(session, site_context().site, found)
    return render_template(
        "stops/bottle.html",
        lot=found,
        cane=lots.cane_in_bottle(page_reader(), found),
        allergens_of=allergens_of(found.product, words()),
        story=origin.paragraph(past, found.bottled_on, words()),
        drawn=lots.drawn(past, found, words()),
    )


@bp.get("/staff/bottles-behind/<lot>")
@open_to(*ROLES)
def bottle_records(lot: str) -> str:
    """Show staff every batch behind a bottle."""
    with site_context().store.read() as session:
        found = lots.find_lot(session, site_context().site, lot) or abort(404)
        past = lots.behind_lot(session, site_context().site, found)
    drawn = lots.drawn(past, found, words())
    return render_template("stops/bottle_records.html", lot=found, past=past, drawn=drawn)


@bp.get("/<lang>/bottles/<lot>/picture.pdf")
@open_to("anyone")
def bottle_paper(lang: str, lot: str) -> Response:
    """Answer what stands behind a bottle on paper: the paragraph and the pictures of its page."""
    with site_context().store.read() as session:
        found = lots.find_lot(session, site_context().site, lot) or abort(404)
        past = lots.behind_lot(session, site_context().site, found)
    drawn = lots.drawn(past, found, words()) or abort(404)
    name = found.product.names[words().language] if found.product else found.product_id
    title = words().gettext("{name}, lot {code}", name=name, code=found.code)
    told = [origin.paragraph(past, found.bottled_on, words())]
    pdf = pictures_pdf(title, told, drawn, paper_asked(), site_context().site.name, words().language)
    return pdf_answer(pdf, f"{found.code}-{words().language}")


@bp.get("/b/<lot>")
@open_to("anyone")
def bottle_code(lot: str) -> Response:
    """Go on from a bottle's printed code to its page in the reader's language."""
    with site_context().store.read() as session:
        found = lots.find_lot(session, site_context().site, lot) or abort(404)
    return redirect(url_for("stops.bottle", lang=words().language, lot=found.code))


@bp.get("/g/<token>")
@open_to("anyone")
def own_page(token: str) -> Response:
    """Show a guest their own page, or that it has ended: a wrong address looks the same."""
    with site_context().store.read() as session:
        page = guest_link.own_page(session, site_context().site, token, now())
    if page:
        language.speak_by_link(page.language)
    stops = stop_pages.links(site_context().content, page_reader())
    tasted = lots.named(site_context().site, page.products, words()) if page else []
    template = "stops/own.html" if page else "stops/ended.html"
    answer = make_response(render_template(template, page=page, stops=stops, tasted=tasted))
    answer.headers.update(PRIVATE)
    return answer


@bp.get("/staff/stops")
@open_to(*ROLES)
def guides() -> str:
    """Show the way to every stop's page for guides."""
    return render_template("stops/guides.html", stops=stop_pages.links(site_context().content, page_reader()))


@bp.get("/staff/stops/<slug>")
@open_to("guide", "bar", "trainee", "production", "manager")
def guide(slug: str) -> str:
    """Show a stop to a guide in one language, or in all side by side (`?language=both`)."""
    wanted = request.args.get("language", words().language)
    spoken = site_context().words
    chosen = list(spoken) if wanted == BOTH else [wanted if wanted in spoken else words().language]
    content, route = site_context().content, site_context().site.route
    pages = [
        stop_pages.guide_page(content, route, slug, page_reader(spoken[code])) or abort(404)
        for code in chosen
    ]
    with site_context().store.read() as session:
        drawn = pictures(session, slug, page_reader(spoken[chosen[0]]), site_context().site.zone)
    return render_template(
        "stops/guide.html",
        pages=pages,
        slug=slug,
        wanted=wanted,
        stops=stop_pages.links(content, page_reader()),
        drawn=drawn,
        birthday=birthday(page_reader(), *(request.args.get(part, type=int) for part in ("day", "month"))),
    )


@bp.get("/staff/stops/<slug>/pictures.pdf")
@open_to("guide", "bar", "trainee", "production", "manager")
def stop_paper(slug: str) -> Response:
    """Answer the pictures of a stop on paper."""
    stop = site_context().content.stops.get(slug) or abort(404)
    with site_context().store.read() as session:
        drawn = pictures(session, slug, page_reader(), site_context().site.zone) or abort(404)
    title = stop.names[words().language]
    pdf = pictures_pdf(title, (), drawn, paper_asked(), site_context().site.name, words().language)
    return pdf_answer(pdf, f"{slug}-{words().language}")


@bp.get("/staff/wall")
@open_to("device")
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
        turn_s=walls.TURN_S,
        ask_s=walls.ASK_S,
    )


@bp.get("/staff/wall.json")
@open_to("device")
def wall_figures() -> Response:
    """Return what the wall shows now; 304 where that is what the asker has."""
    readers = [page_reader(one) for one in site_context().words.values()]
    answer = jsonify(walls.as_json(walls.screens(site_context().content, readers)))
    answer.add_etag()
    return answer.make_conditional(request)
