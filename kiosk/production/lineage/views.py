"""Pages of products and bottlings: for guests in their language, for staff with every batch behind a lot."""

from flask import Blueprint, abort, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from kiosk.figures.figure import Unit
from kiosk.paper.pages import pictures_pdf
from kiosk.production.lineage import lots
from kiosk.production.lineage.lots import Lot
from kiosk.production.lineage.provenance import Provenance
from kiosk.site.products import BASIS_WORDS, allergens_of, product_name
from kiosk.staff.people import ROLES
from kiosk.web.access import open_to
from kiosk.web.context import figure_reader, page_reader, site_context, words
from kiosk.web.page import guest_page, paper_asked, pdf_answer
from kiosk.words.formats import percents
from kiosk.words.units import amount

bp = Blueprint("lineage", __name__, template_folder="templates")


@bp.get("/<lang>/products")
@open_to("anyone")
def products(lang: str) -> Response:
    """Show what the house pours and sells."""
    return guest_page(lambda: render_template("lineage/products.html"))


@bp.get("/<lang>/prices")
@open_to("anyone")
def prices(lang: str) -> Response:
    """Show what tickets and bottles cost, where the house gives prices."""
    if not site_context().site.gives_prices:
        abort(404)
    return guest_page(lambda: render_template("lineage/prices.html"))


@bp.get("/<lang>/products/<product_id>")
@open_to("anyone")
def product(lang: str, product_id: str) -> Response:
    """Show a product with its bottlings on record."""
    site = site_context().site
    listed = site.products.get(product_id) or abort(404)

    def rendered() -> str:
        with site_context().store.read() as session:
            bottlings = lots.lots_of(session, site, product_id)
        return render_template(
            "lineage/product.html",
            product=listed,
            strength_basis=BASIS_WORDS[listed.abv_basis],
            allergens=allergens_of(listed, words()),
            lots=bottlings,
        )

    return guest_page(rendered)


@bp.get("/<lang>/bottles/<lot>")
@open_to("anyone")
def bottle(lang: str, lot: str) -> Response:
    """Show a bottling to guests, with where it comes from."""

    def rendered() -> str:
        shown = _bottle(lot)
        return render_template(
            "lineage/bottle.html",
            lot=shown.lot,
            size=amount(shown.lot.bottle_ml, Unit.ML, 0, words(), site_context().site.units, 1),
            cane=shown.cane,
            allergens=allergens_of(shown.lot.product, words()),
            story=shown.story,
            bottle_pictures=shown.pictures,
        )

    return guest_page(rendered)


@bp.get("/staff/bottles-behind/<lot>")
@open_to(*ROLES)
def bottle_records(lot: str) -> str:
    """Show staff every batch behind a bottling."""
    bottling, provenance = _lot_with_provenance(lot)
    pictures = lots.lot_pictures(provenance, bottling, words())
    here = {"lot": bottling, "provenance": provenance, "bottle_pictures": pictures, "percents": percents}
    return render_template("lineage/bottle_records.html", **here)


@bp.get("/<lang>/bottles/<lot>/picture.pdf")
@open_to("anyone")
def bottle_paper(lang: str, lot: str) -> Response:
    """Answer the paragraph and the pictures of a bottling's page as a PDF."""
    paper, language, shown = paper_asked(), words().language, _bottle(lot)
    pictures, site = shown.pictures or abort(404), site_context().site
    name = product_name(site, shown.lot.product_id, words())
    title = words().gettext("{name}, lot {code}", name=name, code=shown.lot.code)

    def drawn(_session: Session) -> bytes:
        return pictures_pdf(title, [shown.story], pictures, paper, site.name, language)

    pdf = figure_reader().document(lots.BOTTLE_PAPER, f"{shown.lot.code}/{language}/{paper}", drawn)
    return pdf_answer(pdf, f"{shown.lot.code}-{language}")


@bp.get("/b/<lot>")
@open_to("anyone")
def bottle_code(lot: str) -> Response:
    """Redirect from a bottle's printed code to its page in the reader's language."""
    with site_context().store.read() as session:
        bottling = lots.find_lot(session, site_context().site, lot) or abort(404)
    return redirect(url_for("lineage.bottle", lang=words().language, lot=bottling.code))


def _bottle(code: str) -> lots.Bottle:
    """Return what a bottling's page shows, computed once per change; 404 for a code that is not recorded."""
    reader, site = page_reader(), site_context().site

    def read(session: Session) -> lots.Bottle:
        lot = lots.find_lot(session, site, code) or abort(404)
        return lots.read_bottle(session, site, lot, reader)

    return reader.figures.document(lots.BOTTLE_PAGE, f"{code}/{words().language}", read)


def _lot_with_provenance(code: str) -> tuple[Lot, Provenance]:
    """Return a bottling with its provenance; 404 for a code that is not recorded."""
    with site_context().store.read() as session:
        lot = lots.find_lot(session, site_context().site, code) or abort(404)
        return lot, lots.read_provenance(session, site_context().site, lot)
