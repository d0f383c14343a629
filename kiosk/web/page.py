"""Globals and filters of the templates, the ways between the pages of staff, and PDF answers."""

import hashlib
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from babel import Locale
from flask import Flask, Response, abort, make_response, request, url_for
from markupsafe import Markup

from kiosk.drawings import parts
from kiosk.drawings.frieze import frieze, wall_view, wall_walk
from kiosk.drawings.icons import icon
from kiosk.drawings.inks import stylesheet
from kiosk.drawings.plates import draw_plate, plate_parts
from kiosk.drawings.plates.vessels import tasting_glass
from kiosk.drawings.stops import draw_stop
from kiosk.figures.figure import Unit
from kiosk.paper.sheet import Paper
from kiosk.site.products import product_name
from kiosk.web import access
from kiosk.web.compression import compress
from kiosk.web.context import cookie, figure_reader, now, site_context, words
from kiosk.words import formats, units
from kiosk.words.catalogs import N_
from kiosk.words.figures import STATE_WORDS

PAGES = {
    "tours.day": (N_("Tours"), "day"),
    "tours.week": (N_("Week"), "sheet"),
    "tours.take_booking": (N_("Take a booking"), "phone"),
    "tours.walk_in": (N_("Walk-in"), "people"),
    "stops.guides": (N_("Stops"), "walk"),
    "tours.house_plan": (N_("House plan"), "people"),
    "tasting.bottles": (N_("Bottles"), "bottles"),
    "tasting.closing": (N_("Shift closing"), "scale"),
    "tasting.flights": (N_("Flights"), "room"),
    "tasting.approvals": (N_("Approved pours"), "tick"),
    "tasting.rules": (N_("Service rules"), "limit"),
    "production.records": (N_("Records"), "records"),
    "entries.inbox": (N_("Held for review"), "check"),
    "tasting.inspection": (N_("Inspection"), "sheet"),
    "cards.cards": (N_("Stop signs"), "sheet"),
    "staff.devices": (N_("Devices"), "phone"),
    "staff.people": (N_("People"), "people"),
    "personal_data.search": (N_("Personal data"), "people"),
    "web.manual": (N_("Manual"), "sheet"),
    "staff.own_pin": (N_("Change PIN"), "lock"),
}
"""The pages of staff in the order of the menu: the label, which is the page's heading, and the icon."""

TABS = {
    "manager": ("tours.day", "tasting.bottles", "tasting.closing", "production.records"),
    "guide": ("tours.day", "stops.guides", "tasting.bottles", "tasting.flights"),
    "bar": ("tours.day", "tasting.bottles", "tasting.closing", "tasting.flights"),
    "production": ("production.records", "tours.day", "stops.guides", "entries.inbox"),
    "trainee": ("tours.day", "stops.guides", "web.manual", "staff.own_pin"),
}
"""The four pages of each role that stand in the bar below; with several roles those of the first."""

DRAWINGS: Mapping[str, Callable[..., object]] = {
    "balance_bar": parts.balance_bar,
    "bottle_level": parts.bottle_level,
    "cask_head": parts.cask_head,
    "draw_plate": draw_plate,
    "draw_stop": draw_stop,
    "fall_curve": parts.fall_curve,
    "frieze": frieze,
    "icon": icon,
    "limit_stalk": parts.limit_stalk,
    "place_dots": parts.place_dots,
    "plate_parts": plate_parts,
    "seat_dots": parts.seat_dots,
    "seat_symbols": parts.seat_symbols,
    "stalk_gauge": parts.stalk_gauge,
    "stamp": parts.stamp,
    "tank_level": parts.tank_level,
    "tasting_glass": tasting_glass,
    "wall_view": wall_view,
    "wall_walk": wall_walk,
}
"""The drawings that templates call by these names."""

DEMO_NOTE = N_("A demo: its clock started at {time} on {day} and runs on from there.")
THEME_COOKIE = "theme"
THEMES = ("auto", "light", "dim")


def gettext(message: str, /, **values: object) -> str:
    """Return a message in the reader's language."""
    return words().gettext(message, **values)


def ngettext(singular: str, plural: str, n: int, /, **values: object) -> str:
    """Return the form of a message for a count in the reader's language."""
    return words().ngettext(singular, plural, n, **values)


def theme() -> str:
    """Return the theme chosen on this device: auto (as the device has it), light, or dim."""
    chosen = request.cookies.get(THEME_COOKIE, "auto")
    return chosen if chosen in THEMES else "auto"


def ways() -> dict[str, list[tuple[str, str, str]]]:
    """Return the pages that the person may open: endpoint, label and icon of the `tabs` and of `more`."""
    asking = access.person()
    roles = [role for role in TABS if asking is not None and asking.has(role)]
    open_to = {
        page: (page, gettext(label), icon) for page, (label, icon) in PAGES.items() if access.may_open(page)
    }
    tabs = [page for page in (TABS[roles[0]] if roles else ()) if page in open_to]
    return {
        "tabs": [open_to[page] for page in tabs],
        "more": [way for page, way in open_to.items() if page not in tabs],
    }


def house_mark() -> Markup:
    """Return the mark of the house, beside its name: the image that it has brought, else the neutral one."""
    mark = site_context().site.images.mark
    if mark is None:
        return parts.neutral_mark()
    image = '<img class="house-mark{}" src="{}" alt="" width="{}" height="{}">'
    address = url_for("web.house_image", digest=mark.digest)
    return Markup(image).format(" light" if mark.light else "", address, mark.width, mark.height)


def _thing(recorded: str) -> str | Markup:
    """Return a wood or an ingredient in the reader's language, or as recorded, in an unknown language."""
    if units.has_translation(recorded):
        return units.translated_thing(recorded, words())
    return Markup('<span lang="">{}</span>').format(recorded)


def _moment(value: datetime) -> str:
    return formats.moment(value, site_context().site.zone, words(), now())


def _time_of_day(value: datetime) -> str:
    """Return the time of an instant on the site's clock, of whatever day it is."""
    return formats.time(value, site_context().site.zone, words())


def _clock(value: datetime) -> tuple[str, str]:
    """Return the time of an instant on the site's clock, and "AM" or "PM" where the language has it."""
    hour, *half = _time_of_day(value).split(maxsplit=1)
    return hour, "".join(half)


def _demo_notes() -> dict[str, str]:
    """Return what a demo's pages say of its clock, by language; nothing for a house with the true time."""
    site, notes = site_context().site, {}
    if site.demo_clock is not None:
        at = site.local(site.demo_clock.shows)
        for code, said in site_context().words.items():
            facts = {"time": formats.time(at, site.zone, said), "day": formats.day(at.date(), said)}
            notes[code] = said.gettext(DEMO_NOTE, **facts)
    return notes


def _date_by_demo_clock(answer: Response) -> Response:
    """Date an answer by the demo's clock, which the scripts of the pages go by."""
    if request.endpoint not in ("static", "web.site_css"):
        answer.date = now()
    return answer


def _context() -> dict[str, object]:
    return {
        "site": site_context().site,
        "words": words(),
        "lang": words().language,
        "person": access.person(),
        "may_open": access.may_open,
        "ways": ways,
        "device": access.device(),
        "theme": theme(),
        "house_mark": house_mark,
        "demo_notes": _demo_notes(),
        "languages": [(known.code, _own_name(known.code)) for known in site_context().site.languages],
    }


def _own_name(code: str) -> str:
    name = Locale.parse(code).get_display_name(code) or code
    return name[:1].upper() + name[1:]


def _digest(folder: Path) -> str:
    """Return a digest of the static files; addresses carry it, so that browsers may keep them for a year."""
    digest = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def init_app(app: Flask) -> None:
    """Bind the globals and filters of the templates."""
    inks = stylesheet(app.extensions["kiosk"].site.colours.inks)
    versions = {
        "static": _digest(Path(str(app.static_folder))),
        "web.site_css": hashlib.sha256(inks.encode()).hexdigest()[:10],
    }

    def add_version(endpoint: str, values: dict[str, object]) -> None:
        if endpoint in versions:
            values.setdefault("v", versions[endpoint])

    app.url_defaults(add_version)
    app.context_processor(_context)
    app.jinja_env.globals.update(
        DRAWINGS,
        _=gettext,
        gettext=gettext,
        ngettext=ngettext,
        state_words=STATE_WORDS,
        house_time=lambda: site_context().site.local(now()),
    )
    app.jinja_env.filters.update(
        number=lambda value, digits=0: formats.number(value, digits, words()),
        money=lambda value: formats.money(value, site_context().site.currency, words()),
        plain_number=lambda value: formats.plain_number(value, words()),
        share=lambda value, digits=0: formats.percent(value, digits, words()),
        day=lambda value: formats.day(value, words()),
        short_day=lambda value: formats.short_day(value, words()),
        weekday=lambda value: formats.weekday(value, words()),
        moment=_moment,
        time_of_day=_time_of_day,
        clock=_clock,
        amount=lambda value, unit, digits=1: units.amount(
            value, Unit(unit), digits, words(), site_context().site.units
        ),
        thing=_thing,
        product_name=lambda product: product_name(site_context().site, product, words()),
        room_name=lambda room: site_context().site.room_name(room, words().language),
    )
    if app.extensions["kiosk"].site.demo_clock is not None:
        app.after_request(_date_by_demo_clock)
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True


def paper_asked(usual: Paper = Paper.A4) -> Paper:
    """Return the sheet that `?paper=` asks for, the `usual` one without; any other is answered with 404."""
    paper = request.args.get("paper", usual)
    if paper not in set(Paper):
        abort(404)
    return Paper(paper)


def pdf_answer(pdf: bytes, name: str) -> Response:
    """Answer a document under a name."""
    disposition = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(pdf, mimetype="application/pdf", headers=disposition)


def etag_of(*parts: object) -> str:
    """Return the ETag of a page that shows the same while the `parts` are equal."""
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:32]


def not_modified(etag: str) -> Response | None:
    """Return 304 where the browser holds the page of this ETag, else None: the page is to be rendered."""
    if not request.if_none_match.contains_weak(etag):
        return None
    return under_etag("", etag, 304)


def under_etag(page: str, etag: str, status: int = 200, mimetype: str = "text/html") -> Response:
    """Return an answer that browsers know by an ETag."""
    answer = Response(page, status, mimetype=mimetype)
    answer.set_etag(etag, weak=True)
    return answer


GUEST_PAGES = object()
"""Owns the pages of guests in the cache of the registry."""


class _OldFigures(Exception):
    """A page was rendered while another request computes a figure of it anew; it is not kept."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page


def guest_page(render: Callable[[], str], shows: object = "") -> Response:
    """Answer a page of guests, rendered once per change of the figures; 304 where the browser has it.

    A device of the house, and an address with a query, get a page of their own. `shows` is what else
    the page shows that changes by the clock alone, such as a closure that ends.
    """
    if request.query_string or cookie(access.DEVICE_COOKIE):
        return make_response(render())
    here, place = site_context(), f"{words().language} {theme()} {request.path} {shows}"
    version = figure_reader().version()
    etag = etag_of(here.started, place, version)
    if (unchanged := not_modified(etag)) is not None:
        return compress(unchanged)
    try:
        page, current = here.registry.pages.get(GUEST_PAGES, place, version, lambda: _rendered(render))
    except _OldFigures as rendered:
        page, current = rendered.page, False
    answer = under_etag(page, etag) if current else make_response(page)
    answer.cache_control.no_cache = True
    return compress(answer) if current else answer


def _rendered(render: Callable[[], str]) -> str:
    page = render()
    if not figure_reader().current:
        raise _OldFigures(page)
    return page
