"""Answers every error with a sentence in the reader's language, as HTML or JSON.

An error with `status`, `message` and `facts` is a refusal, whose code is its own or
its class's name; an HTTP error gets a sentence of `SENTENCES`; anything else is
logged and answered as a fault of ours. The store has rolled its writes back.
"""

import re
from collections.abc import Mapping
from urllib.parse import urlsplit

from flask import Flask, current_app, g, jsonify, make_response, render_template, request
from werkzeug.exceptions import HTTPException, InternalServerError, SecurityError
from werkzeug.wrappers import Response

from kiosk.figures.errors import FigureError
from kiosk.web import access, forms, language
from kiosk.web.context import words
from kiosk.words.catalogs import N_
from kiosk.words.errors import sentence

TITLES = {
    401: N_("Please sign in"),
    403: N_("Not open to you"),
    404: N_("Page not found"),
    409: N_("That no longer fits"),
    413: N_("Too large"),
    422: N_("That cannot be right"),
    429: N_("One moment"),
    500: N_("Something broke"),
    503: N_("Busy"),
}
SENTENCES = {
    400: N_("The request could not be understood."),
    401: N_("No person is signed in on this device."),
    403: N_("This page is not open to the person signed in here."),
    404: N_("There is no page at this address."),
    405: N_("This address does not take that kind of request."),
    413: N_("What was sent is larger than this address takes."),
    500: N_("The fault is ours and has been written down. What you sent was not kept."),
}


def wants_json() -> bool:
    """Return whether the answer should be JSON: asked for, or sent."""
    accepted = request.accept_mimetypes
    return request.is_json or accepted["application/json"] > accepted["text/html"]


def refuse(error: Exception) -> Response:
    """Answer an error."""
    if "words" not in g:
        language.speak(language.unasked())
    if isinstance(error, access.NotEnrolled):
        return _answer(404, "not_enrolled", words().gettext(error.message), {})
    if isinstance(error, HTTPException):
        return _http(error)
    if isinstance(error, FigureError):
        return _answer(422, error.reason, sentence(error, words()), {"field": error.field})
    status = getattr(error, "status", None)
    if isinstance(status, int) and hasattr(error, "message"):
        code = getattr(error, "code", None)
        if not isinstance(code, str):
            code = re.sub(r"(?<!^)(?=[A-Z])", "_", type(error).__name__).lower()
        return _answer(status, code, sentence(error, words()), getattr(error, "facts", {}))
    current_app.logger.exception("a fault in %s %s", request.method, request.path)
    if current_app.testing:
        raise error
    return _http(InternalServerError())


def _http(error: HTTPException) -> Response:
    if error.response is not None or (error.code or 500) < 400:
        return error.get_response()
    if isinstance(error, SecurityError):  # no page can be made for a host that is not ours
        return make_response(
            ("This site does not answer to that host name.\n", 400, {"Content-Type": "text/plain"})
        )
    code = error.code or 500
    text = words().gettext(SENTENCES.get(code) or SENTENCES[400])
    answer = _answer(code, re.sub(r"\W+", "_", error.name.lower()), text, {})
    for name, value in error.get_headers(request.environ):
        if name not in ("Content-Type", "Content-Length"):
            answer.headers[name] = value
    return answer


def _answer(status: int, code: str, text: str, facts: Mapping[str, object]) -> Response:
    if wants_json():
        plain = {key: value for key, value in facts.items() if isinstance(value, str | int | float | list)}
        return make_response(jsonify({**plain, "error": code, "sentence": text}), status)
    if status == 503:  # a person not identified yet stays so: that would take a query
        g.person, g.device = g.get("person"), g.get("device")
    title = words().gettext(TITLES.get(status) or TITLES[422])
    return make_response(_page(title, text, status, code), status)


def _page(title: str, text: str, status: int, code: str) -> str:
    facts = {"sentence": text, "status": status, "code": code, "back": _page_before()}
    return render_template("web/error.html", title=title, typed=texts_sent(), **facts)


_NOT_SHOWN = re.compile(r"pin|token|code|key|revision|^kind$|^act$")
"""Fields whose values are secret, or that nobody typed."""


def texts_sent() -> list[str]:
    """Return what was typed into a form that was refused, so that it can be typed again."""
    if request.method != "POST":
        return []
    try:
        sent = request.form
    except HTTPException:  # a form that is too large is not read
        return []
    names = [name for name in sent if not _NOT_SHOWN.search(name)]
    return [text for name in names if (text := forms.text(name))]


def _page_before() -> str:
    """Return the page of this site from which the request came, or "" where it is not known."""
    try:
        before = urlsplit(request.referrer or "")
    except ValueError:
        return ""
    path = before.path + (f"?{before.query}" if before.query else "")
    itself = request.method == "GET" and path == request.full_path.rstrip("?")
    return "" if before.netloc != request.host or itself else forms.local_path(path, "")


def init_app(app: Flask) -> None:
    """Take every error, and let pages show what was sent to them."""
    app.register_error_handler(Exception, refuse)
    app.jinja_env.globals["texts_sent"] = texts_sent
