"""What the house pours and sells: `products.toml`, one `[[product]]` each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from kiosk.site import values
from kiosk.site.reader import Setting, Where, read_table
from kiosk.site.settings import Product
from kiosk.words.catalogs import N_

ABV_BASES = ("label", "distilled", "laboratory", "not_known")
EU_ALLERGENS = (
    *("gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery"),
    *("mustard", "sesame", "sulphites", "lupin", "molluscs"),
)
"""The fourteen groups of Regulation (EU) No 1169/2011, Annex II, with its corrections up to 2014."""

US_ALLERGENS = ("milk", "eggs", "fish", "crustaceans", "nuts", "wheat", "peanuts", "soybeans", "sesame")
"""The nine of 21 U.S.C. 321(qq), sesame since 2023; of the cereals with gluten it names wheat alone."""

ALLERGENS = (*EU_ALLERGENS, "wheat", "coconut")
"""What may be told of a product. Wheat is a cereal with gluten; coconut stands on neither list (it left
the American one in January 2025) and guests are told of it by name all the same."""

TEXTS = N_("a text for each of the site's languages")

ALLERGENS_SETTING = Setting(
    "allergens",
    values.list_of(values.text, ALLERGENS),
    N_("a list of {choices}"),
    "Allergens added after distilling: whatever a guest must be told, on whichever list it stands.",
    default=(),
    facts={"choices": ", ".join(ALLERGENS)},
)
PRODUCT = (
    Setting(
        "id",
        values.matching(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*"),
        N_("lower case letters, digits and dashes"),
        "The name that records and ledgers use; never changed once something was poured.",
    ),
    Setting("names", values.by_language, TEXTS, "The name on the label."),
    Setting("legal_class", values.by_language, TEXTS, "Class and type by law."),
    Setting("notes", values.by_language, TEXTS, "A few warm words.", default={}),
    Setting(
        "abv_percent",
        values.number(0, 96),
        N_("% vol from {low} to {high}"),
        "Strength at 20 °C; where it is not known, that of the spirit before fruit, sugar and water.",
        facts={"low": 0, "high": 96},
    ),
    Setting(
        "abv_basis",
        values.one_of(*ABV_BASES),
        N_("one of {choices}"),
        "How the strength is known. Sugar hides it from a hydrometer: then label, distilled or laboratory.",
        facts={"choices": ", ".join(ABV_BASES)},
    ),
    ALLERGENS_SETTING,
    Setting(
        "classes",
        values.list_of(values.matching(r"[a-z][a-z0-9_]*")),
        N_("a list of names of classes"),
        "Its class in each law that it is sold under: `kiosk check` holds its strength to the class's least.",
        default=(),
    ),
    Setting("own", values.flag, N_("true or false"), "Does the house make it?", default=True),
    Setting(
        "sugar_g_per_l", values.number(0, 1000), N_("grams in a liter, 0 to 1000"), "Sugar.", default=None
    ),
)

PRODUCTS = (
    Setting(
        "product", values.anything, N_("at least one [[product]]"), "The products.", table=PRODUCT, many=True
    ),
    Setting("recipe", values.anything, N_("a list of recipes"), "Read by `recipes`.", default=[]),
)


def read_products(table: Any, languages: Sequence[str], where: Where) -> dict[str, Product]:
    """Read the products by id, in their order; faults are noted, and what is right is returned."""
    read = read_table(table, PRODUCTS, where) or {}
    products: dict[str, Product] = {}
    for place, entry in enumerate(read.get("product", [])):
        here = where.at("product", place)
        check_languages(entry, ("names", "legal_class", "notes"), languages, here)
        if entry["id"] in products:
            here.at("id").note(entry["id"], N_("an id that no other product has"))
        products[entry["id"]] = _product(entry)
    return products


def check_languages(
    entry: Mapping[str, Any], names: Sequence[str], languages: Sequence[str], where: Where
) -> None:
    """Note each text of a table that lacks a language of the site, or has one more; none at all is fine."""
    for name in names:
        for code in languages if entry[name] else ():
            if code not in entry[name]:
                where.at(name, code).missing(TEXTS)
        for code in entry[name]:
            if code not in languages:
                where.at(name, code).note(entry[name][code], TEXTS)


def _product(entry: Mapping[str, Any]) -> Product:
    given = {name: value for name, value in entry.items() if name != "abv_percent"}
    return Product(abv_e2=int((Decimal(str(entry["abv_percent"])) * 100).to_integral_value()), **given)
