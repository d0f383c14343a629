"""Loads a site from its folder: `site.toml`, `products.toml` and `secret`, with every fault at once."""

import os
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from kiosk.figures.drinks import (
    ANY_PRODUCT,
    EACH_PRODUCT,
    STANDARD_DRINKS,
    Kind,
    ServicePolicy,
    StandardDrink,
)
from kiosk.site.faults import Fault, SiteFaults
from kiosk.site.images import read_images
from kiosk.site.policy import WEEKDAYS, read_policy
from kiosk.site.products import check_languages, check_welcome, read_products, read_recipes
from kiosk.site.secret import read_secret
from kiosk.site.settings import (
    APPROVAL_KINDS,
    Colours,
    DemoClock,
    Language,
    Measure,
    OpeningHours,
    Product,
    RouteStop,
    Site,
    TicketKind,
    TrustedProxy,
)
from kiosk.site.shipped import shipped
from kiosk.site.site_toml import CONSOLE, LANGUAGE_CODE, OFF, SITE
from kiosk.site.toml_reader import Refused, Setting, Where, read_table, read_toml
from kiosk.site.values import SLUG
from kiosk.store.sqlite import address_of
from kiosk.words.catalogs import N_, SOURCE_LANGUAGE

DATABASE_VARIABLE = "KIOSK_DATABASE"
DATABASE_FILE = "kiosk.sqlite"
CLOCK_FILE = "clock.toml"
"""Only the folder of a demo has one."""
COUNTED = (Kind.POURS, Kind.VOLUME, Kind.DRINKS)


def load_site(folder: Path, *, database: str | None = None) -> Site:
    """Return the site of a folder; raises SiteFaults with every fault of settings, products and secret.

    The database is the one given, else KIOSK_DATABASE, else that of `site.toml`,
    else `kiosk.sqlite` in the folder.
    """
    faults: list[Fault] = []
    site = read_site(folder, faults, database=database)
    if site is None or faults:
        raise SiteFaults(faults)
    return site


def read_site(folder: Path, faults: list[Fault], *, database: str | None = None) -> Site | None:
    """Return the site of a folder; None when its settings have a fault. Every fault goes to `faults`."""
    folder = folder.resolve()
    table, where = read_toml(folder / "site.toml", "site.toml", faults)
    products_table, products_where = read_toml(folder / "products.toml", "products.toml", faults)
    secret = read_secret(folder, faults)
    clock = read_demo_clock(folder, faults)
    if isinstance(rooms := table.get("rooms"), list):  # before rooms had names they were a list of ids
        table["rooms"] = [{"id": room} if isinstance(room, str) else room for room in rooms]
    read = read_table(table, SITE, where) if table else None
    drink = STANDARD_DRINKS.get(str(table.get("standard_drink")), STANDARD_DRINKS["US"])
    codes = _codes(table)
    products = read_products(products_table, codes, products_where) if products_table else {}
    recipes = read_recipes(products_table, products, codes, products_where)
    policy = _policy(table, drink, products, where) if "service" in table else None
    if read is None or policy is None:
        return None
    _check_whole(read, policy, codes, where)
    _check_formulas(read["formula_for"], products, where)
    images = read_images(read["images"], folder, where.at("images"))
    check_welcome(recipes, read["welcome_drink"], products_where)
    return _site(
        read,
        folder=folder,
        policy=policy,
        products=products,
        recipes=recipes,
        database=database or database_address(folder, read["database"]),
        access_log=access_log_of(folder, read["access_log"]),
        images=images,
        secret=secret,
        demo_clock=clock,
    )


def _instant(value: Any) -> datetime:
    if not isinstance(value, datetime) or value.tzinfo is None:
        raise Refused
    return value


_INSTANT = N_("a date and a time with their offset from UTC, such as 2026-04-16T11:05:00-04:00")
_CLOCK = (
    Setting("shows", _instant, _INSTANT, "What the demo's clock showed when it started."),
    Setting("at", _instant, _INSTANT, "What the computer's clock showed then.", default=None),
)


def read_demo_clock(folder: Path, faults: list[Fault]) -> DemoClock | None:
    """Return the clock of a demo's folder; None for any other folder, and for a demo not yet prepared."""
    if not (folder / CLOCK_FILE).is_file():
        return None
    table, where = read_toml(folder / CLOCK_FILE, CLOCK_FILE, faults)
    read = read_table(table, _CLOCK, where) if table else None
    return DemoClock(read["shows"], read["at"]) if read and read["at"] else None


def database_address(folder: Path, setting: str | None) -> str:
    """Return a site's database address: KIOSK_DATABASE, else its setting, else a file in the folder."""
    return os.environ.get(DATABASE_VARIABLE) or setting or address_of(folder / DATABASE_FILE)


def access_log_of(folder: Path, setting: str) -> str | None:
    """Return where the access log goes: "-" for the console, a file, a short name in the folder, or None."""
    if setting == OFF:
        return None
    return setting if setting == CONSOLE else str(folder / setting)


def outline(folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the codes of languages and the stops of the route that `site.toml` writes correctly.

    With these the content of a site can be checked while its settings still have faults.
    """
    table, _ = read_toml(folder / "site.toml", "site.toml", [])
    stops = dict.fromkeys(str(entry.get("stop")) for entry in _entries(table, "route"))
    codes = (code for code in _codes(table) if re.fullmatch(LANGUAGE_CODE, code))
    return tuple(codes), tuple(stop for stop in stops if re.fullmatch(SLUG, stop))


def _entries(table: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    entries = table.get(name)
    return [entry for entry in entries if isinstance(entry, Mapping)] if isinstance(entries, list) else []


def _codes(table: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the codes of languages that are written, so that texts can be checked for them."""
    return tuple(dict.fromkeys(str(e["code"]) for e in _entries(table, "languages") if "code" in e))


def _policy(
    table: Mapping[str, Any], drink: StandardDrink, products: Mapping[str, Product], where: Where
) -> ServicePolicy | None:
    at = where.at("service")
    policy = read_policy(table["service"], drink, at)
    if policy is None:
        return None
    for place, limit in enumerate(policy.limits):
        known = {ANY_PRODUCT, EACH_PRODUCT, *products}
        if products and limit.product not in known:
            remedy = N_('"*", "each one" or one of {products}')
            at.at("limit", place, "product").note(limit.product, remedy, products=", ".join(products))
    if not any(limit.kind in COUNTED for limit in policy.limits):
        at.at("limit").missing(
            N_("a limit of pours, volume or drinks; where no law sets one, a house rule does")
        )
    return policy


def _check_whole(read: Mapping[str, Any], policy: ServicePolicy, codes: Sequence[str], where: Where) -> None:
    """Check what concerns several settings."""
    _check_once(read["languages"], "languages", "code", where)
    _check_once(read["measures"], "measures", "id", where)
    _check_once(read["rooms"], "rooms", "id", where)
    _check_once(read["route"], "route", "stop", where)
    _check_once(read["tickets"], "tickets", "id", where)
    for place, ticket in enumerate(read["tickets"]):
        check_languages(ticket, ("names",), codes, where.at("tickets", place))
    check_languages(read, ("label_lines",), codes, where)
    check_languages(read["images"], ("picture_text",), codes, where.at("images"))
    for place, room in enumerate(read["rooms"]):
        check_languages(room, ("names",), codes, where.at("rooms", place))
    known = known_languages()
    for place, language in enumerate(read["languages"]):
        at = where.at("languages", place)
        if language["code"] not in known:
            at.at("code").note(
                language["code"], N_("a language with a catalog: {codes}"), codes=", ".join(known)
            )
        if language["locale"].split("_")[0] != language["code"]:
            at.at("locale").note(
                language["locale"], N_("a locale of the language {code}"), code=language["code"]
            )
    rooms = [room["id"] for room in read["rooms"]]
    for unknown in set(policy.rooms) - set(rooms):
        where.at("service", "rooms").note(unknown, N_("rooms of this site: {rooms}"), rooms=", ".join(rooms))


def _check_formulas(named: Sequence[str], products: Mapping[str, Product], where: Where) -> None:
    for name in named:
        if products and name not in (*APPROVAL_KINDS, *products):
            remedy = N_("the id of a product, or a kind of approval: {kinds}")
            where.at("formula_for").note(name, remedy, kinds=", ".join(APPROVAL_KINDS))


def _check_once(entries: Sequence[Mapping[str, Any]], table: str, name: str, where: Where) -> None:
    for place, entry in enumerate(entries):
        if entry[name] in [earlier[name] for earlier in entries[:place]]:
            where.at(table, place, name).note(entry[name], N_("each only once"))


def known_languages() -> list[str]:
    """Return the languages that have a catalog: the source language and every folder of `locales`."""
    folders = sorted(path.parent.parent.name for path in shipped("locales").glob("*/LC_MESSAGES/kiosk.po"))
    return [SOURCE_LANGUAGE, *(code for code in folders if code != SOURCE_LANGUAGE)]


_AS_READ = (
    *("key", "name", "currency", "units", "standard_drink", "day_starts", "label_lines"),
    *("formula_for", "welcome_drink", "public_address", "retention_days", "room_temperature_c"),
    "usual_id",
)


def _site(read: Mapping[str, Any], **given: Any) -> Site:
    address = read["public_address"]
    host = urlsplit(address).hostname if address else None
    return Site(
        **{name: read[name] for name in _AS_READ},
        languages=tuple(Language(**entry) for entry in read["languages"]),
        zone=read["time_zone"],
        measures=tuple(Measure(entry["id"], entry["volume"]) for entry in read["measures"]),
        rooms=tuple(room["id"] for room in read["rooms"]),
        room_names={room["id"]: room["names"] for room in read["rooms"]},
        trusted_hosts=tuple(dict.fromkeys([*([host] if host else []), *read["trusted_hosts"]])),
        staff_over_http=read["staff_over_http"] is not None,
        trusted_proxy=TrustedProxy(**read["trusted_proxy"]) if read["trusted_proxy"] else None,
        colours=Colours(**read["colours"]),
        route=tuple(_route_stop(entry) for entry in read["route"]),
        tickets=tuple(TicketKind(**entry) for entry in read["tickets"]),
        opening=tuple(_opening(entry) for entry in read["opening"]),
        **given,
    )


def _opening(entry: Mapping[str, Any]) -> OpeningHours:
    days = frozenset(WEEKDAYS.index(day) for day in entry["days"])
    return OpeningHours(days, entry["opens"], entry["closes"])


def _route_stop(entry: Mapping[str, Any]) -> RouteStop:
    return RouteStop(entry["stop"], entry["minutes"], entry["walk_minutes"], entry["holds"])
