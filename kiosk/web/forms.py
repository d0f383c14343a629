"""Readers of form fields, answers to forms that are refused, and the cookies of forms and sign-ins."""

from collections.abc import Callable
from functools import wraps
from typing import Any
from unicodedata import normalize

from flask import make_response, request
from werkzeug.wrappers import Response

from kiosk.staff.errors import StaffError
from kiosk.web.context import cookie_name, words
from kiosk.words.errors import sentence


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


Wrong = dict[str, str]
"""Sentences of a refused form by field; "form" for one that is about no field."""
FormView = Callable[..., Response]


def refused_by(page: Callable[..., str]) -> Callable[[FormView], FormView]:
    """Answer what a view refuses with its page again, the sentence beside the field.

    `page` is given the sentences and the view's own arguments.
    """

    def decorate(view: FormView) -> FormView:
        @wraps(view)
        def answer(**place: Any) -> Response:
            try:
                return view(**place)
            except StaffError as refusal:
                wrong = {refusal.field or "form": sentence(refusal, words())}
                return make_response(page(wrong, **place), refusal.status)

        return answer

    return decorate


def set_cookie(response: Response, name: str, value: str, max_age: int | None = None) -> None:
    """Set a cookie of this site that scripts cannot read and other sites cannot send."""
    response.set_cookie(
        cookie_name(name), value, max_age=max_age, httponly=True, samesite="Strict", secure=request.is_secure
    )


def delete_cookie(response: Response, name: str) -> None:
    """Delete a cookie of this site."""
    response.delete_cookie(cookie_name(name))
