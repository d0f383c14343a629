"""Readers of form fields, and the cookies that forms and sign-ins give."""

from unicodedata import normalize

from flask import request
from werkzeug.wrappers import Response

from kiosk.web.context import cookie_name


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


def set_cookie(response: Response, name: str, value: str, max_age: int | None = None) -> None:
    """Set a cookie of this site that scripts cannot read and other sites cannot send."""
    response.set_cookie(
        cookie_name(name), value, max_age=max_age, httponly=True, samesite="Strict", secure=request.is_secure
    )


def delete_cookie(response: Response, name: str) -> None:
    """Delete a cookie of this site."""
    response.delete_cookie(cookie_name(name))
