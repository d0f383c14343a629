"""The token that every form carries, and small readers of form fields.

The token is a keyed hash of the cookie that speaks for whoever fills in the
form: the sign-in, else the device, else a random cookie given to a visitor.
"""

from __future__ import annotations

import hmac
from unicodedata import normalize

from flask import Flask, g, request
from markupsafe import Markup
from werkzeug.wrappers import Response

from kiosk.site.secret import new_token
from kiosk.web import access
from kiosk.web.context import site_context
from kiosk.web.security import SAFE
from kiosk.words.catalogs import N_

FIELD = "form_token"
VISITOR_COOKIE = "kiosk_visit"


class FormExpired(Exception):
    """A form came without the token of whoever sent it."""

    status = 403
    code = "form_expired"
    message = N_("This form is no longer valid. Open the page again and repeat what you did.")
    facts: dict[str, object] = {}


def form_token() -> str:
    """Return the token for forms shown to whoever asks now."""
    return site_context().site.keyed_hash("form", _speaker(give=True))


def form_token_field() -> Markup:
    """Return the hidden field that carries the token."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, form_token())


def check_form_token() -> None:
    """Refuse an unsafe request that is not JSON and lacks its form's token."""
    if request.method in SAFE or request.is_json or access.by_token():
        return
    speaker = _speaker(give=False)
    sent = request.form.get(FIELD, "")
    if not speaker or not hmac.compare_digest(
        sent.encode(), site_context().site.keyed_hash("form", speaker).encode()
    ):
        raise FormExpired()


def text(name: str, longest: int = 200) -> str:
    """Return a text field in one line, without blanks at its ends, cut at `longest` characters.

    What looks alike is written alike, and signs that cannot be seen are left out: one
    name must not pass for two, and PostgreSQL takes no NUL.
    """
    sent = normalize("NFC", request.form.get(name, ""))
    return "".join(sign for sign in sent if sign.isprintable()).strip()[:longest]


def whole(name: str) -> int | None:
    """Return a field of digits as a number, or None."""
    return digits(request.form.get(name, ""))


def digits(sent: str) -> int | None:
    """Return up to nine plain digits as a number, or None for anything else."""
    sent = sent.strip()
    return int(sent) if sent.isascii() and sent.isdigit() and len(sent) <= 9 else None


def local_path(path: str | None, otherwise: str) -> str:
    """Return a path on this site to go on to; anything else gives `otherwise`."""
    if not path or not path.startswith("/") or path.startswith(("//", "/\\")):
        return otherwise
    return path if path.isprintable() and "\\" not in path else otherwise


def _speaker(*, give: bool) -> str:
    if access.person():
        return "person:" + request.cookies[access.PERSON_COOKIE]
    if access.device():
        return "device:" + request.cookies[access.DEVICE_COOKIE]
    visitor = request.cookies.get(VISITOR_COOKIE) or g.get("new_visitor", "")
    if not visitor and give:
        visitor = g.new_visitor = new_token()
    return f"visitor:{visitor}" if visitor else ""


def _give_cookie(response: Response) -> Response:
    if "new_visitor" in g:
        set_cookie(response, VISITOR_COOKIE, g.new_visitor)
    return response


def set_cookie(response: Response, name: str, value: str, max_age: int | None = None) -> None:
    """Set a cookie that scripts cannot read and other sites cannot send."""
    response.set_cookie(
        name, value, max_age=max_age, httponly=True, samesite="Strict", secure=request.is_secure
    )


def init_app(app: Flask) -> None:
    """Check every form before its view runs."""
    app.before_request(check_form_token)
    app.after_request(_give_cookie)
    app.jinja_env.globals.update(form_token=form_token, form_token_field=form_token_field)
