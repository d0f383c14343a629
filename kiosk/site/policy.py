"""Reads the service policy of a site from the table `[service]` of `site.toml`."""

from collections.abc import Callable, Mapping
from typing import Any, cast

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    EACH_PRODUCT,
    Kind,
    Limit,
    ServiceHours,
    ServicePolicy,
    StandardDrink,
    parse_drinks,
    parse_volume,
    parse_volume_ul,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.service.policy import OF_ONE_POUR, Per
from kiosk.site import values
from kiosk.site.toml_reader import Refused, Setting, Where, read_table
from kiosk.site.values import clock_time, list_of, text
from kiosk.words.catalogs import N_

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
OLDEST_GUEST_AGE = 30
OLDEST_SERVER_AGE = 30
YOUNGEST_GUEST_AGE = 18  # spirits for the younger are no site's business

_ONE_OF = N_("one of {choices}")
_PER = N_('"pour", "visit", "day", or a number of minutes')
_MOST = {
    Kind.LARGEST: N_('a volume such as "0.5 fl oz" or "15 mL"'),
    Kind.VOLUME: N_('a volume such as "1.5 fl oz" or "45 mL"'),
    Kind.DRINKS: N_('standard drinks such as "1.5 drinks"'),
    Kind.POURS: N_("a whole number of pours, at least 1"),
    Kind.GAP: N_("a whole number of minutes, at least 1"),
    Kind.GLASSES: N_("a whole number of glasses, at least 1"),
    Kind.VISITS: N_("a whole number of visits, at least 1"),
}
_PER_DEFAULT = {
    **dict.fromkeys(OF_ONE_POUR, "pour"),
    **dict.fromkeys((Kind.GAP, Kind.GLASSES, Kind.VISITS), "day"),
}
_ID = values.matching(r"[a-z][a-z0-9_]*")


def _per(value: Any) -> str | int:
    if value in ("pour", "visit", "day") and isinstance(value, str):
        return value
    return values.whole(1, 100_000)(value)


def _choice(name: str, choices: tuple[str, ...], doc: str, **given: Any) -> Setting:
    facts = {"choices": ", ".join(f'"{choice}"' for choice in choices)}
    return Setting(name, values.one_of(*choices), _ONE_OF, doc, facts=facts, **given)


_BASIS = Setting("basis", text, N_('the law that says so, or "house rule"'), "Where the rule comes from.")
_YEAR = Setting("year", values.whole(1800, 2200), N_("the year of that text"), "The year of the text.")

LIMIT = (
    Setting("id", _ID, N_("a name in lower case letters, digits and _"), "What refusals call it."),
    _choice("kind", tuple(kind.value for kind in Kind), "What is limited."),
    Setting("per", _per, _PER, "Over what it is counted.", None),
    Setting("most", lambda value: value, N_("how much, by kind"), "The most of it.", None),
    Setting("sizes", list_of(text), N_("a list of volumes"), "The sizes allowed.", ()),
    values.true_or_false("multiples", "May a pour hold a size several times?", default=False),
    Setting(
        "product",
        text,
        N_('the id of a product, "*" for all together, or "{each}"'),
        "Of what.",
        default=ANY_PRODUCT,
        facts={"each": EACH_PRODUCT},
    ),
    values.true_or_false("neat_only", "Does it bind neat pours only?", default=False),
    _choice("tour", ("", "with", "after"), "Only on a tour, or only after one?", default=""),
    Setting(
        "tickets",
        list_of(text),
        N_("a list of kinds of ticket"),
        "Whom it binds; a guest whose ticket is not known is bound by it.",
        default=(),
    ),
    values.whole_number("liquids_below", 2, 20, "A glass of so many liquids or more is exempt.", default=0),
    _BASIS,
    _YEAR,
)
HOURS = (
    values.choices_of("days", WEEKDAYS, "On which weekdays.", default=WEEKDAYS),
    Setting("from", clock_time, N_("a time of day such as 09:00:00"), "When pouring starts."),
    Setting("until", clock_time, N_("a time of day such as 18:00:00"), "Closing time, after the last pour."),
    Setting("last_pour", clock_time, N_("a time of day such as 17:45:00"), "When pouring stops.", None),
)
SERVICE = (
    values.whole_number("guest_age", YOUNGEST_GUEST_AGE, OLDEST_GUEST_AGE, "Guests are served from it."),
    _BASIS,
    _YEAR,
    Setting("rooms", list_of(text), N_("a list of rooms"), "Where is poured.", ()),
    values.true_or_false("mixers", "May spirits be mixed? If not, they are poured neat.", default=True),
    values.true_or_false("own_only", "Is only what the house makes poured?", default=False),
    values.whole_number(
        "server_age", 0, OLDEST_SERVER_AGE, "Youngest age that may pour; 0 without a rule.", default=0
    ),
    Setting(
        "server_permit",
        text,
        N_("the kind of permit, as in the records of staff"),
        "Servers hold it.",
        "",
    ),
    _choice("mat", ("whole", "glass"), "Preset glasses are served whole or singly.", default="whole"),
    values.table("limit", N_("a list of limits"), "The limits.", LIMIT, default=[], many=True),
    values.table("hours", N_("a list of hours"), "The hours.", HOURS, default=[], many=True),
)


def read_policy(table: Any, standard_drink: StandardDrink, where: Where) -> ServicePolicy | None:
    """Return the policy of a `[service]` table; None when a fault was noted."""
    read = read_table(table, SERVICE, where)
    if read is None:
        return None
    before = len(where.faults)
    limits = [
        _limit(entry, standard_drink, where.at("limit", place)) for place, entry in enumerate(read["limit"])
    ]
    for place, entry in enumerate(read["limit"]):
        if entry["id"] in [earlier["id"] for earlier in read["limit"][:place]]:
            where.at("limit", place, "id").note(entry["id"], N_("an id that no other limit has"))
    if len(where.faults) > before:
        return None
    return ServicePolicy(
        guest_age=read["guest_age"],
        basis=read["basis"],
        year=read["year"],
        limits=tuple(limit for limit in limits if limit is not None),
        hours=tuple(_hours(entry) for entry in read["hours"]),
        **{name: read[name] for name in _AS_READ},
    )


_AS_READ = ("rooms", "mixers", "own_only", "server_age", "server_permit", "mat")


def _limit(entry: Mapping[str, Any], standard_drink: StandardDrink, where: Where) -> Limit | None:
    kind = Kind(entry["kind"])
    given = {name: entry[name] for name in entry if name not in ("kind", "per", "most", "sizes")}
    per = entry["per"] or _PER_DEFAULT.get(kind)
    if not per:
        where.at("per").missing(_PER)
        return None
    most = 0 if kind is Kind.SIZES else _most(kind, entry["most"], standard_drink, where.at("most"))
    sizes = tuple(parse_volume(size) for size in entry["sizes"] if _is_volume(size, where.at("sizes")))
    if most is None:
        return None
    try:
        return Limit(kind=kind, per=cast(Per, per), most=most, sizes_ul=sizes, **given)
    except FigureError as error:
        part = error.field.rpartition(".")[2]
        where.at(part).note(error.value, _TOGETHER[part])
        return None


_TOGETHER = {
    "per": N_('"pour" for largest and sizes, "day" for visits, else "visit", "day" or a number of minutes'),
    "sizes": N_("at least one size"),
    "most": N_("more than zero"),
    "product": N_("every product: a gap is between any two pours, and a visit is one of all products"),
    "tickets": N_("only with the kinds pours, volume, drinks and glasses"),
    "liquids_below": N_("only with the kinds largest and sizes"),
}


def _most(kind: Kind, value: Any, standard_drink: StandardDrink, where: Where) -> int | None:
    read: Mapping[Kind, Callable[[Any], int]] = {
        Kind.LARGEST: lambda v: parse_volume_ul(text(v), round_up=True),
        Kind.VOLUME: lambda v: parse_volume_ul(text(v), round_up=True),
        Kind.DRINKS: lambda v: parse_drinks(text(v), standard_drink),
        Kind.POURS: values.whole(1, 1000),
        Kind.GAP: lambda v: values.whole(1, 1440)(v) * 60,
        Kind.GLASSES: values.whole(1, 100),
        Kind.VISITS: values.whole(1, 100),
    }
    if value is None:
        where.missing(_MOST[kind])
        return None
    try:
        return read[kind](value)
    except (Refused, FigureError):
        where.note(value, _MOST[kind])
        return None


def _is_volume(size: str, where: Where) -> bool:
    try:
        parse_volume(size)
    except FigureError:
        where.note(size, _MOST[Kind.LARGEST])
        return False
    return True


def _hours(entry: Mapping[str, Any]) -> ServiceHours:
    days = frozenset(WEEKDAYS.index(day) for day in entry["days"])
    return ServiceHours(days, entry["from"], entry["until"], entry["last_pour"])
