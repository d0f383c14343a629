"""Returns every fault of a site's folder, for `kiosk check`.

A product is held to the least strength of its class in law, which stands among the
facts: `least_strength_us_rum` is the least of the class `us_rum`, in % vol, with its
law, its year and how it is known.
"""

import os
from collections.abc import Collection
from pathlib import Path

from babel.messages.pofile import PoFileError, read_po

from kiosk.site.content.loading import Content, read_content
from kiosk.site.faults import MISSING, Fault
from kiosk.site.loading import outline, read_site
from kiosk.site.secret import NAME as SECRET
from kiosk.site.secret import ONLY_ITS_OWNER, open_mode
from kiosk.site.settings import Product, RouteStop, Site
from kiosk.site.shipped import shipped
from kiosk.site.site_toml import CONSOLE
from kiosk.site.toml_reader import Where, read_toml
from kiosk.site.values import TEXTS
from kiosk.store.errors import AddressUnusable
from kiosk.store.sqlite import parse_address
from kiosk.words.catalogs import N_, SOURCE_LANGUAGE

LEAST = "least_strength_"


def class_faults(site: Site, content: Content) -> list[Fault]:
    """Return the faults of products that are weaker than their class, or whose class is not in the facts."""
    least = {
        name.removeprefix(LEAST): float(fact.value)
        for name, fact in content.facts.items()
        if name.startswith(LEAST)
    }
    source = (site.folder / "products.toml").read_text(encoding="utf-8")
    faults: list[Fault] = []
    for place, product in enumerate(site.products.values()):
        _check(product, least, Where("products.toml", source, faults, ("product", place)))
    return faults


def _check(product: Product, least: dict[str, float], where: Where) -> None:
    for name in product.classes:
        if name not in least:
            where.at("classes").note(name, N_("one of {choices}"), choices=", ".join(sorted(least)))
        elif product.abv_e2 < round(least[name] * 100):
            remedy = N_("at least {least} % vol for the class {name}, by the table of facts")
            where.at("abv_percent").note(product.abv_e2 / 100, remedy, least=least[name], name=name)


def rooms_without_names(folder: Path) -> list[Fault]:
    """Return a fault for each room of a readable site that has no names; pages then show its id."""
    site, faults = read_site(folder, []), list[Fault]()
    if site is None:
        return faults
    where = Where("site.toml", (site.folder / "site.toml").read_text(encoding="utf-8"), faults)
    for place, room in enumerate(site.rooms):
        if not site.room_names.get(room):
            where.at("rooms", place, "names").missing(TEXTS)
    return faults


def check_site(folder: Path, figure_names: Collection[str] | None = None) -> list[Fault]:
    """Return every fault of settings, products, secret, route, content and catalogs, at once.

    Where settings have a fault, content and catalogs are still checked for the
    stops and languages that are written correctly. A missing secret is no fault here:
    a folder that is kept and passed on has none until it is served.
    """
    faults: list[Fault] = []
    site = read_site(folder, faults)
    faults = [fault for fault in faults if (fault.file, fault.found) != (SECRET, MISSING)]
    languages, slugs = outline(folder)
    route = site.route if site else tuple(RouteStop(slug, 0, 0, 0) for slug in slugs)
    content = read_content(folder, languages, route, figure_names, faults)
    faults += database_faults(folder)
    if site:
        faults += [fault for file in site.images.files for fault in file.faults()]
        faults += log_faults(site)
        faults += route_faults(site, content)
        faults += class_faults(site, content)
    for language in languages:
        faults += catalog_faults(shipped("locales"), language)
    return faults


def database_faults(folder: Path) -> list[Fault]:
    """Return the faults of the setting `database`: one that no database has, a password that others read."""
    faults: list[Fault] = []
    table, where = read_toml(folder / "site.toml", "site.toml", faults)
    address = table.get("database")
    if not isinstance(address, str):
        return []
    try:
        password = parse_address(address).password
    except AddressUnusable:
        where.at("database").note("***", N_("an address that begins with sqlite:/// or postgresql://"))
        return faults
    mode = open_mode(folder / "site.toml")
    if password and mode:
        faults.append(Fault("site.toml", None, "site.toml", mode, ONLY_ITS_OWNER, {"name": "site.toml"}))
    return faults


def log_faults(site: Site) -> list[Fault]:
    """Return the fault of an access log that cannot be written, as a file in a folder that does not exist."""
    source, faults = (site.folder / "site.toml").read_text(encoding="utf-8"), list[Fault]()
    if site.access_log in (None, CONSOLE):
        return faults
    file = Path(str(site.access_log))
    if not (os.access(file, os.W_OK) if file.is_file() else file.parent.is_dir() and not file.exists()):
        remedy = N_('"off", "-" for the console, or a file that Kiosk may write in a folder that exists')
        typed = file.relative_to(site.folder) if file.is_relative_to(site.folder) else file
        Where("site.toml", source, faults, ("access_log",)).note(str(typed), remedy)
    return faults


def route_faults(site: Site, content: Content) -> list[Fault]:
    """Return the faults of route entries: too little time or too many people for a stop, or a wrong order."""
    source = (site.folder / "site.toml").read_text(encoding="utf-8")
    faults: list[Fault] = []
    for place, step in enumerate(site.route):
        _check_step(site, content, step, Where("site.toml", source, faults, ("route", place)))
    return faults


def _check_step(site: Site, content: Content, step: RouteStop, where: Where) -> None:
    stop = content.stops.get(step.slug)
    if stop is None:
        return
    if step.minutes < stop.least_minutes:
        remedy = N_("at least {least} minutes, as the stop's own settings say")
        where.at("minutes").note(step.minutes, remedy, least=stop.least_minutes)
    if step.holds > stop.holds:
        remedy = N_("at most {most} people, as the stop's own settings say")
        where.at("holds").note(step.holds, remedy, most=stop.holds)
    slugs = [each.slug for each in site.route]
    for earlier in stop.after:
        if earlier in slugs[slugs.index(step.slug) :]:
            where.at("stop").note(step.slug, N_("{earlier} before it"), earlier=earlier)


def catalog_faults(folder: Path, language: str) -> list[Fault]:
    """Return each message that a language's catalog leaves empty or marks as fuzzy."""
    if language == SOURCE_LANGUAGE:
        return []
    path = folder / language / "LC_MESSAGES" / "kiosk.po"
    file = f"(shipped) locales/{language}/LC_MESSAGES/kiosk.po"
    try:
        with path.open("rb") as opened:
            catalog = read_po(opened, locale=language, abort_invalid=True)
    except FileNotFoundError:
        return [Fault(file, None, language, MISSING, N_("a catalog of this language"))]
    except PoFileError as error:
        return [Fault(file, error.lineno + 1, language, str(error), N_("a catalog that can be read"))]
    allowed = N_("a translation that is not empty and not fuzzy")
    return [
        Fault(file, message.lineno, _shortened(message.id), gap, allowed)
        for message in catalog
        if message.id and (gap := _untranslated(message.string, message.fuzzy)) is not None
    ]


def _shortened(message: str | list[str] | tuple[str, ...]) -> str:
    singular = message if isinstance(message, str) else message[0]
    return f'"{singular}"' if len(singular) <= 60 else f'"{singular[:57]}..."'


def _untranslated(string: str | list[str] | tuple[str, ...] | None, fuzzy: bool) -> str | None:
    forms = [string] if isinstance(string, str) else list(string or ())
    if not forms or not all(forms):
        return MISSING
    return "fuzzy" if fuzzy else None
