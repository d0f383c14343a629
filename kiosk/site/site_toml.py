"""Declares every setting of `site.toml`: name, reading, what is allowed, what it is for.

The rules of service are declared in `policy`, products and recipes in `products`.

The site's own colours are held to the contrast of the inks that are mixed from them, so
that text in them stays readable; a colour that loses it is refused with the nearest one
that keeps it.
"""

from datetime import time
from ipaddress import IPv4Network, IPv6Network, ip_network
from typing import Any
from zoneinfo import ZoneInfo

from babel import Locale, UnknownLocaleError
from babel.core import get_global

from kiosk.drawings import inks
from kiosk.figures.drinks import STANDARD_DRINKS, StandardDrink
from kiosk.site import images, values
from kiosk.site.policy import WEEKDAYS
from kiosk.site.settings import APPROVAL_KINDS, ID_KINDS, Units, WelcomeDrink
from kiosk.site.toml_reader import Refused, Setting
from kiosk.site.values import SLUG_ALLOWED, list_of, matching, slug, text
from kiosk.words.catalogs import N_

LANGUAGE_CODE = r"[a-z]{2,3}"
SEPARATE_NETWORK = "separate network"
OFF, CONSOLE = "off", "-"
"""Values of `access_log` that are no file."""

_COLOUR = N_("a color #rrggbb that keeps the contrast of the pages, such as {nearest}")


def _locale(value: Any) -> str:
    try:
        return str(Locale.parse(text(value)))
    except (ValueError, UnknownLocaleError):
        raise Refused from None


def _zone(value: Any) -> ZoneInfo:
    try:
        return ZoneInfo(text(value))
    except (OSError, ValueError, KeyError):
        raise Refused from None


def _currency(value: Any) -> str:
    code = matching(r"[A-Z]{3}")(value)
    if code not in get_global("all_currencies"):
        raise Refused
    return code


def _standard_drink(value: Any) -> StandardDrink:
    return STANDARD_DRINKS[values.one_of(*STANDARD_DRINKS)(value)]


def _accent(name: str, usual: str, doc: str, *, dim: bool) -> Setting:
    def read(value: Any) -> str:
        if not inks.is_colour(value):
            raise Refused
        if not inks.keeps_contrast(value, dim=dim):
            raise Refused(nearest=inks.nearest(value, dim=dim))
        return str(value).lower()

    return Setting(name, read, _COLOUR, doc, usual, facts={"nearest": usual})


def _network(value: Any) -> IPv4Network | IPv6Network:
    try:
        return ip_network(text(value))
    except ValueError:
        raise Refused from None


def _lines(value: Any) -> dict[str, tuple[str, ...]]:
    if not isinstance(value, dict):
        raise Refused
    return {code: list_of(text)(lines) for code, lines in value.items()}


LANGUAGE = (
    Setting("code", matching(LANGUAGE_CODE), N_("a language's code such as en"), "In addresses and files."),
    Setting("locale", _locale, N_("a locale such as en_US or es_PR"), "How numbers and dates are written."),
)
MEASURE = (
    Setting("id", slug, SLUG_ALLOWED, "What the tasting calls it."),
    Setting("volume", values.volume_ul, values.VOLUME, "What it holds."),
)
ROOM = (
    Setting("id", slug, SLUG_ALLOWED, "The name in records; never changed once something was poured in it."),
    values.texts("names", "What pages call it.", default={}),
)
ROUTE = (
    Setting("stop", slug, N_("the name of a stop's folder"), "Which stop."),
    values.whole_number("minutes", 1, 240, "Minutes there."),
    values.whole_number("walk_minutes", 0, 240, "Minutes of walking to it.", default=0),
    values.whole_number("holds", 1, 500, "The most people at once."),
)
TICKET = (
    Setting(
        "id", matching(r"\S(?:.{0,38}\S)?"), N_("at most 40 letters"), "As the rules of service name it."
    ),
    values.texts("names", "What it is called."),
    Setting("price", values.price, values.PRICE, "What a person pays for it, shown to guests.", None),
)
OPENING = (
    values.choices_of("days", WEEKDAYS, "On which weekdays.", default=WEEKDAYS),
    Setting("opens", values.clock_time, N_("a time of day such as 09:00:00"), "When guests may come."),
    Setting("closes", values.clock_time, N_("a time of day such as 18:00:00"), "When guests are gone."),
)
COLOURS = (
    _accent("accent", inks.CANE, "The colour of bands, buttons and numbers.", dim=False),
    _accent("accent_dark", inks.CANE_DIM, "The colour of buttons and numbers in the dim room.", dim=True),
)

TRUSTED_PROXY = (
    Setting(
        "addresses",
        list_of(_network),
        N_('a list of addresses or networks such as "127.0.0.1" or "10.0.0.0/8"'),
        "From where the proxy reaches this server.",
    ),
    values.whole_number("hops", 1, 5, "How many proxies a request passes.", default=1),
)

SITE = (
    Setting("name", text, N_("the name that guests read"), "The site's name."),
    Setting("key", matching(r"[a-z][a-z0-9-]{1,30}"), SLUG_ALLOWED, "A short name that never changes."),
    values.table(
        "languages", N_("at least one [[languages]]"), "The first is the fallback.", LANGUAGE, many=True
    ),
    Setting("time_zone", _zone, N_('a time zone such as "America/Puerto_Rico" or "Etc/GMT+4"'), "The clock."),
    Setting("currency", _currency, N_("a currency's code such as USD"), "What things cost in."),
    values.enum("units", Units, "The trade's units."),
    values.choice(
        "standard_drink",
        STANDARD_DRINKS,
        "Whose standard drink counts.",
        allowed=N_("a country: {choices}"),
        read=_standard_drink,
    ),
    Setting(
        "day_starts",
        values.clock_time,
        N_("a time of day such as 05:00:00"),
        "Start of the day.",
        time(5),
    ),
    values.table(
        "measures", N_("at least one [[measures]]"), "The measures that the house owns.", MEASURE, many=True
    ),
    values.table(
        "rooms",
        N_("at least one [[rooms]]"),
        "The tasting rooms; a list of ids is read too.",
        ROOM,
        default=({"id": "main", "names": {}},),
        many=True,
    ),
    Setting(
        "formula_for",
        list_of(text),
        N_("a list of ids of products and kinds of approval: {kinds}"),
        "What is released only under a formula or an approval that the law asks.",
        default=(),
        facts={"kinds": ", ".join(APPROVAL_KINDS)},
    ),
    values.enum(  # the default is right before a walk past machines that run
        "welcome_drink", WelcomeDrink, "When the welcome drink is served.", default=WelcomeDrink.ALCOHOL_FREE
    ),
    values.choice("usual_id", ID_KINDS, "The ID that most guests show at check-in.", default=ID_KINDS[0]),
    Setting(
        "public_address",
        matching(r"https?://[A-Za-z0-9.-]+(?::\d+)?"),
        N_('an address such as "https://visit.example", without a slash at the end'),
        "What codes and links begin with.",
        default=None,
    ),
    Setting(
        "trusted_hosts",
        list_of(matching(r"\.?[A-Za-z0-9.-]+(?::\d+)?")),
        N_("a list of host names"),
        "Further names under which the site answers.",
        (),
    ),
    Setting(
        "staff_over_http",
        values.one_of(SEPARATE_NETWORK),
        N_('"{phrase}", or nothing'),
        "Set by hand where staff have a network that guests cannot join.",
        default=None,
        facts={"phrase": SEPARATE_NETWORK},
    ),
    values.table(
        "trusted_proxy",
        N_("a table [trusted_proxy]"),
        "The reverse proxy whose word on address and https is taken.",
        TRUSTED_PROXY,
        default=None,
    ),
    values.whole_number("retention_days", 1, 365, "Days until guests' names are gone.", default=30),
    values.whole_number("room_temperature_c", 0, 40, "Of tasting rooms without a reading.", default=25),
    Setting(
        "database",
        matching(r"(?:sqlite|postgresql)(?:\+[a-z0-9]+)?://.*"),
        N_("an address that begins with sqlite:/// or postgresql://"),
        "Where the records live.",
        default=None,
        hidden=True,
    ),
    Setting(
        "access_log",
        text,
        N_('"off", "-" for the console, or the name of a file'),
        "Where a line is written for each request.",
        default=OFF,
    ),
    Setting(
        "label_lines",
        _lines,
        N_("a list of lines for each of the site's languages"),
        "Lines that stand with every product: advertiser and contact, warning, age.",
        default={},
    ),
    values.table(
        "colours",
        N_("a table"),
        "The site's own colours.",
        COLOURS,
        default={"accent": inks.CANE, "accent_dark": inks.CANE_DIM},
    ),
    values.table("images", N_("a table"), "The site's own images.", images.SETTINGS, default=images.NONE),
    values.table(
        "opening",
        N_("a list of opening hours"),
        "When the house receives guests; without it, at all hours of every day.",
        OPENING,
        default=(),
        many=True,
    ),
    values.table(
        "tickets",
        N_("a list of kinds of tickets"),
        "The kinds of tickets, chosen for each booking; the first is preset.",
        TICKET,
        default=(),
        many=True,
    ),
    values.table("route", N_("at least one [[route]]"), "The stops in their order.", ROUTE, many=True),
    values.table("service", N_("a table [service]"), "The rules of service.", ()),
)
