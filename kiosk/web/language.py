"""Which language a reader gets: their own choice, then the link, the browser, the site's first.

A page whose address names another language than the reader chose is answered
with the way to the same page in theirs, so that a link never undoes a choice.
"""

from collections.abc import Sequence
from typing import Any

from flask import Flask, g, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.web import access
from kiosk.web.context import site_context

COOKIE = "language"


def own_choice() -> str | None:
    """Return the language that this visitor chose, if the site speaks it."""
    code = request.cookies.get(COOKIE, "")
    return code if code in site_context().words else None


def pick_language() -> Response | None:
    """Set `g.words` for this request; 404 for an address in a language the site lacks."""
    linked = (request.view_args or {}).get("lang")
    choice = own_choice()
    by_path = linked or request.path.split("/")[1]  # a missing page is answered in its language too
    speak(choice or (by_path if by_path in site_context().words else None) or _fitting())
    if linked is None:
        return None
    if linked not in site_context().words:
        raise NotFound()
    if choice and choice != linked and request.method == "GET":
        return redirect(_same_page_in(choice))
    return None


def speak(code: str) -> None:
    """Answer this request in a language of the site."""
    g.words = site_context().words[code]


def speak_to(languages: Sequence[str]) -> None:
    """Answer a person identified late: in the language chosen, else one they speak, else the browser's."""
    speak(own_choice() or _first(languages) or _browsers())


def speak_by_link(code: str) -> None:
    """Answer in the language that a link stands for, unless the visitor chose one."""
    if own_choice() is None and code in site_context().words:
        speak(code)


def in_language(path: str, code: str) -> str:
    """Return a path of this site with its language part, if it has one, replaced."""
    first, slash, rest = path.removeprefix("/").partition("/")
    return f"/{code}{slash}{rest}" if first in site_context().words else path


def _fitting() -> str:
    """Return a language of the signed-in person, else the one a visitor would get."""
    person = access.person() if request.path.startswith("/staff") else None
    return (_first(person.languages) if person else None) or _browsers()


def unasked() -> str:
    """Return the visitor's own choice, else the browser's, else the site's first; no record is read."""
    return own_choice() or _browsers()


def _browsers() -> str:
    codes = [known.code for known in site_context().site.languages]
    return request.accept_languages.best_match(codes) or codes[0]


def _first(languages: Sequence[str]) -> str | None:
    """Return the first of the languages that the site speaks too."""
    return next((code for code in languages if code in site_context().words), None)


def _same_page_in(code: str) -> str:
    place: dict[str, Any] = {**request.args.to_dict(flat=False), **(request.view_args or {}), "lang": code}
    return url_for(str(request.endpoint), **{key: place[key] for key in place if not key.startswith("_")})


def init_app(app: Flask) -> None:
    """Choose the language before any page runs; whom an entry identifies is answered by `speak_to`."""
    access.before_pages(app, pick_language)
