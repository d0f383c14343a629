"""Addresses that belong to no feature: the root, the choices of language and look, the manual."""

from collections.abc import Mapping

from flask import Blueprint, abort, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.drawings.inks import stylesheet
from kiosk.site.content.manual import ManualPage, law_text, read_manual
from kiosk.staff.people import ROLES
from kiosk.web import language
from kiosk.web.access import open_to
from kiosk.web.compression import compress
from kiosk.web.context import site_context, words
from kiosk.web.forms import local_path
from kiosk.web.page import THEME_COOKIE, THEMES
from kiosk.web.security import YEAR_S

bp = Blueprint("web", __name__)


@bp.get("/")
@open_to("anyone")
def root() -> Response:
    """Send a visitor to the front page in their language."""
    return redirect(f"/{words().language}/")


@bp.get("/language/<code>")
@open_to("anyone")
def choose_language(code: str) -> Response:
    """Keep a visitor's own choice of language and go back to where they were."""
    if code not in site_context().words:
        raise NotFound()
    back = local_path(request.args.get("to"), f"/{code}/")
    return _remember(redirect(language.in_language(back, code)), language.COOKIE, code)


@bp.get("/look/<name>")
@open_to("anyone")
def choose_look(name: str) -> Response:
    """Keep this device's choice of look: `auto`, `light`, or `dim` for a dark room."""
    if name not in THEMES:
        raise NotFound()
    answer = redirect(local_path(request.args.get("to"), f"/{words().language}/"))
    return _remember(answer, THEME_COOKIE, name)


def _remember(answer: Response, name: str, value: str) -> Response:
    """Keep a choice for a year, also for visits by a link from elsewhere (Lax)."""
    answer.set_cookie(name, value, 31_536_000, httponly=True, samesite="Lax", secure=request.is_secure)
    return answer


@bp.get("/site.css")
@open_to("anyone")
def site_css() -> Response:
    """Serve the inks of the house as a style sheet."""
    answer = make_response(stylesheet(site_context().site.colours.inks))
    answer.mimetype = "text/css"
    answer.cache_control.max_age = YEAR_S if "v" in request.args else 3600
    return compress(answer)


@bp.get("/house/<digest>.webp")
@open_to("anyone")
def house_image(digest: str) -> Response:
    """Serve an image that the house has brought, under an address that changes with it."""
    images = {image.digest: image for image in site_context().site.images.each}
    if digest not in images:
        raise NotFound()
    answer = make_response(images[digest].webp)
    answer.mimetype = "image/webp"
    answer.cache_control.public = True
    answer.cache_control.max_age = YEAR_S
    answer.cache_control.immutable = True
    return answer


@bp.get("/staff/manual")
@open_to(*ROLES)
def manual() -> str:
    """List the pages of the manual."""
    return render_template("web/manual.html", pages=_manual())


@bp.get("/staff/manual/parts")
@open_to(*ROLES)
def manual_parts() -> str:
    """Show every part of the screens in each of its states."""
    return render_template("web/parts.html")


@bp.get("/staff/manual/<page>")
@open_to(*ROLES)
def manual_page(page: str) -> str:
    """Show a page of the manual in the reader's language."""
    pages = _manual()
    return render_template("web/manual_page.html", pages=pages, page=pages.get(page) or abort(404))


@bp.get("/staff/manual/laws/<law>")
@open_to(*ROLES)
def law_example(law: str) -> Response:
    """Answer an example of a tasting law as it would stand in `site.toml`."""
    answer = make_response(law_text(law) or abort(404))
    answer.mimetype = "text/plain"
    return answer


def _manual() -> Mapping[str, ManualPage]:
    return read_manual(words().language, url_for("web.manual"))
