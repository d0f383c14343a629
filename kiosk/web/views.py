"""Addresses that belong to no feature: the root, the choices of language and look."""

from __future__ import annotations

from flask import Blueprint, make_response, redirect, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.web import language
from kiosk.web.access import open_to
from kiosk.web.forms import local_path
from kiosk.web.house import house, words
from kiosk.web.page import THEME_COOKIE, THEMES
from kiosk.web.theme import stylesheet

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
    if code not in house().words:
        raise NotFound()
    back = local_path(request.args.get("to"), f"/{code}/")
    return language.keep_choice(redirect(language.in_language(back, code)), code)


@bp.get("/look/<name>")
@open_to("anyone")
def choose_look(name: str) -> Response:
    """Keep this device's choice of look: `auto`, `light`, or `dim` for a dark room."""
    if name not in THEMES:
        raise NotFound()
    answer = redirect(local_path(request.args.get("to"), f"/{words().language}/"))
    answer.set_cookie(
        THEME_COOKIE, name, max_age=31_536_000, httponly=True, samesite="Lax", secure=request.is_secure
    )
    return answer


@bp.get("/site.css")
@open_to("anyone")
def site_css() -> Response:
    """Serve the site's own colours as a stylesheet."""
    answer = make_response(stylesheet(house().site.colours))
    answer.mimetype = "text/css"
    answer.cache_control.max_age = 3600
    return answer
