"""What every template can say: the words, numbers and times of the reader."""

from __future__ import annotations

import hashlib
from datetime import date, datetime
from pathlib import Path

from babel import Locale
from flask import Flask, request
from markupsafe import Markup

from kiosk.web import access
from kiosk.web.house import house, now, words
from kiosk.words import dates, numbers, things

THEME_COOKIE = "theme"
THEMES = ("auto", "light", "dim")


def gettext(message: str, /, **values: object) -> str:
    """Return a message in the reader's language."""
    return words().gettext(message, **values)


def ngettext(singular: str, plural: str, n: int, /, **values: object) -> str:
    """Return the form of a message for a count in the reader's language."""
    return words().ngettext(singular, plural, n, **values)


def theme() -> str:
    """Return the look that this device chose: as the device has it, light, or dim."""
    chosen = request.cookies.get(THEME_COOKIE, "auto")
    return chosen if chosen in THEMES else "auto"


def _number(value: float, digits: int = 0) -> str:
    return numbers.number(value, digits, words())


def _share(value: float, digits: int = 0) -> str:
    return numbers.percent(value, digits, words())


def _plain_number(value: float) -> str:
    return numbers.plain_number(value, words())


def _thing(recorded: str) -> str | Markup:
    """Return a wood or an ingredient in the reader's language, or as it was written, in whatever language."""
    said = things.thing(recorded, words())
    return said if things.known(recorded) else Markup('<span lang="">{}</span>').format(recorded)


def _day(value: date) -> str:
    return dates.day(value, words())


def _moment(value: datetime) -> str:
    return dates.moment(value, house().site.zone, words(), now())


def _context() -> dict[str, object]:
    return {
        "site": house().site,
        "words": words(),
        "lang": words().language,
        "person": access.person(),
        "may_open": access.may_open,
        "device": access.device(),
        "theme": theme(),
        "languages": [(known.code, _own_name(known.code)) for known in house().site.languages],
    }


def _own_name(code: str) -> str:
    name = Locale.parse(code).get_display_name(code) or code
    return name[:1].upper() + name[1:]


def _digest(folder: Path) -> str:
    """Name the state of the static files, so that browsers may keep them for a year."""
    found = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        found.update(path.read_bytes())
    return found.hexdigest()[:10]


def init_app(app: Flask) -> None:
    """Bind the globals and filters of the templates."""
    version = _digest(Path(str(app.static_folder)))

    def add_version(endpoint: str, values: dict[str, object]) -> None:
        if endpoint in ("static", "web.site_css"):
            values.setdefault("v", version)

    app.url_defaults(add_version)
    app.context_processor(_context)
    app.jinja_env.globals.update(_=gettext, gettext=gettext, ngettext=ngettext)
    app.jinja_env.filters.update(
        number=_number, plain_number=_plain_number, share=_share, day=_day, moment=_moment, thing=_thing
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
