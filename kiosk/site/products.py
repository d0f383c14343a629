"""Reads `products.toml`: products (`[[product]]`), mixed drinks (`[[recipe]]`), and their allergens.

A mixed drink holds one product from a bottle, so that one entry says what left which
bottle. A drink of two spirits is mixed beforehand, approved as a product of its
own and poured from its own jug.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from kiosk.site import values
from kiosk.site.settings import Mixer, Product, Recipe, Site, WelcomeDrink
from kiosk.site.toml_reader import Setting, Where, read_table
from kiosk.site.values import SLUG_ALLOWED, TEXTS, slug
from kiosk.store.names import EXPERIMENT
from kiosk.words.catalogs import N_, Words

Entry = Mapping[str, Any]
"""A table of the file, as `read_table` returns it."""

ABV_BASES = ("label", "distilled", "laboratory", "not_known")
TINTS = ("clear", "aged", "fruit", "cacao")
EU_ALLERGENS = (
    *("gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "nuts", "celery"),
    *("mustard", "sesame", "sulphites", "lupin", "molluscs"),
)
"""The fourteen groups of Regulation (EU) No 1169/2011, Annex II, with its corrections up to 2014."""

US_ALLERGENS = ("milk", "eggs", "fish", "crustaceans", "nuts", "wheat", "peanuts", "soybeans", "sesame")
"""The nine of 21 U.S.C. 321(qq), sesame since 2023; of the cereals with gluten it names wheat alone."""

ALLERGENS = (*EU_ALLERGENS, "wheat", "coconut")
"""The allergens of products. Wheat is a cereal with gluten; coconut stands on neither list (it left
the American one in January 2025) and is named to guests all the same."""

ALLERGENS_SETTING = values.choices_of(
    "allergens",
    ALLERGENS,
    "Allergens added after distilling, by either list, that guests must know of.",
    default=(),
)
PRODUCT = (
    Setting("id", slug, SLUG_ALLOWED, "The name in records; never changed once something was poured."),
    values.texts("names", "The name on the label."),
    values.texts("legal_class", "Class and type by law."),
    values.texts("notes", "A few warm words.", default={}),
    Setting(
        "abv_percent",
        values.number(0, 96),
        N_("% vol from {low} to {high}"),
        "Strength at 20 °C; where it is not known, that of the spirit before fruit, sugar and water.",
        facts={"low": 0, "high": 96},
    ),
    values.choice(
        "abv_basis",
        ABV_BASES,
        "How the strength is known. Sugar hides it from a hydrometer: then label, distilled or laboratory.",
    ),
    ALLERGENS_SETTING,
    Setting(
        "classes",
        values.list_of(values.matching(r"[a-z][a-z0-9_]*")),
        N_("a list of names of classes"),
        "Its class in each law that it is sold under: `kiosk check` holds its strength to the class's least.",
        default=(),
    ),
    values.true_or_false("own", "Does the house make it?", default=True),
    values.choice("tint", TINTS, "What its bottle is drawn with, on pages and paper.", default="clear"),
    Setting("price", values.price, values.PRICE, "What a bottle of it costs, shown to guests.", None),
    Setting("sugar_g_per_l", values.number(0, 1000), N_("grams in a liter, 0 to 1000"), "Sugar.", None),
)

PRODUCTS = (
    values.table("product", N_("at least one [[product]]"), "The products.", PRODUCT, many=True),
    Setting("recipe", lambda value: value, N_("a list of recipes"), "Read by `read_recipes`.", []),
)


def read_products(table: Any, languages: Sequence[str], where: Where) -> dict[str, Product]:
    """Return the products by id, in their order; none when a setting is missing or malformed.

    Every fault goes to `where`; a missing language or an id given twice leaves the product in.
    """
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
    """Add a fault for each language of the site that a text lacks, and for each other one that it has.

    A text without any language is allowed.
    """
    for name in names:
        for code in languages if entry[name] else ():
            if code not in entry[name]:
                where.at(name, code).missing(TEXTS)
        for code in entry[name]:
            if code not in languages:
                where.at(name, code).note(entry[name][code], TEXTS)


def _product(entry: Entry) -> Product:
    given = {name: value for name, value in entry.items() if name != "abv_percent"}
    return Product(abv_e2=int((Decimal(str(entry["abv_percent"])) * 100).to_integral_value()), **given)


ALLERGEN_WORDS = {
    "gluten": N_("cereals with gluten"),
    "wheat": N_("wheat"),
    "crustaceans": N_("crustaceans"),
    "eggs": N_("eggs"),
    "fish": N_("fish"),
    "peanuts": N_("peanuts"),
    "soybeans": N_("soybeans"),
    "milk": N_("milk"),
    "nuts": N_("nuts"),
    "celery": N_("celery"),
    "mustard": N_("mustard"),
    "sesame": N_("sesame"),
    "sulphites": N_("sulfites"),
    "lupin": N_("lupin"),
    "molluscs": N_("mollusks"),
    "coconut": N_("coconut"),
}
"""What guests call each of `kiosk.site.products.ALLERGENS`."""

# Wheat is one of the cereals that the European list names together.
_BY_THE_EU = (*EU_ALLERGENS, "wheat")

BASIS_WORDS = {
    "label": N_("as the label states it"),
    "distilled": N_("measured on a sample that was distilled first, since sugar and fruit hide alcohol"),
    "laboratory": N_("measured by a laboratory"),
    "not_known": N_("not measured: that of the spirit before fruit, sugar, and water went in"),
}
"""How a strength is known, by `ABV_BASES`."""


@dataclass(frozen=True, slots=True)
class Contains:
    """The allergens of a product in a reader's words. `differ`: the two lists do not name the same."""

    names: list[str]
    on_eu_list: list[str]
    on_us_list: list[str]
    differ: bool


def product_name(site: Site, product: str, words: Words) -> str:
    """Return the name of a product, a recipe or an experiment in the reader's language."""
    known = site.products.get(product) or site.recipes.get(product)
    return known.names.get(words.language, product) if known else words.name_of(EXPERIMENT, product)


def short_name(site: Site, product: str, words: Words) -> str:
    """Return the name of a product without the house's own name before it, for tiles: "Blanco"."""
    name = product_name(site, product, words)
    short = name.removeprefix(site.name).strip()
    return short if name.startswith(f"{site.name} ") and short else name


def allergens_of(product: Product | None, words: Words) -> Contains:
    """Return the allergens of a product; none for a product that the site does not list."""
    return list_allergens(product.allergens if product else (), words)


def list_allergens(codes: Sequence[str], words: Words) -> Contains:
    """Return allergens in the reader's language: all of them, and those that each law's list names."""
    every, eu, us = (
        [words.gettext(ALLERGEN_WORDS[code]) for code in codes if code in known]
        for known in (tuple(ALLERGEN_WORDS), _BY_THE_EU, US_ALLERGENS)
    )
    return Contains(every, eu, us, differ=not every == eu == us)


def allergen_names(codes: Sequence[str], words: Words) -> str:
    """Return the names of allergens in the reader's language, separated by commas; "" for none."""
    return ", ".join(words.gettext(ALLERGEN_WORDS[code]) for code in codes)


_RECIPE_ID = Setting("id", slug, SLUG_ALLOWED, "The name in records; shared with no product.")
_NAMES = values.texts("names", "What it is called.")
_PRODUCT = Setting("product", values.text, N_("the id of a product"), "What comes from the bottle.")
_VOLUME = Setting("volume", values.volume_ul, values.VOLUME, "How much of it.")

MIXER = (
    _NAMES,
    Setting("volume", values.volume_ul, values.VOLUME, "How much; not measured for ice and garnish.", 0),
    ALLERGENS_SETTING,
)
_MIXERS = values.table("mixer", N_("a list of mixers"), "Mixers.", MIXER, default=[], many=True)
_PART = (_PRODUCT, _VOLUME)
PART = (
    *_PART,
    Setting("small", values.volume_ul, values.VOLUME, "How much of it in a small welcome drink.", None),
)
TWIN = (
    _RECIPE_ID,
    _NAMES,
    values.table("part", N_("a list of parts"), "What comes from a bottle.", _PART, default=[], many=True),
    _MIXERS,
)
RECIPE = (
    _RECIPE_ID,
    _NAMES,
    values.texts("glass", "The glass of both, so that it does not show who drinks alcohol."),
    values.table("part", N_("one [[recipe.part]]"), "The spirit.", PART, many=True),
    _MIXERS,
    values.table("twin", N_("a table [recipe.twin]"), "The same without alcohol.", TWIN),
)
RECIPES = (values.table("recipe", N_("a list of recipes"), "Mixed drinks.", RECIPE, default=[], many=True),)

_ONE_PART = N_(
    "one part: what is mixed of two spirits is a product of its own, approved and poured from its jug"
)
_STRONG = N_("a product with alcohol; what has none is a mixer")
_FREE = N_("a product without alcohol")


def read_recipes(
    table: Mapping[str, Any], products: Mapping[str, Product], languages: Sequence[str], where: Where
) -> dict[str, Recipe]:
    """Return the recipes by id, each followed by its alcohol-free twin, and add their faults to `where`.

    The result is empty where a setting is missing or malformed; other faults leave the recipes in it.
    """
    read = read_table({name: table[name] for name in table if name == "recipe"}, RECIPES, where) or {}
    recipes: dict[str, Recipe] = {}
    for place, entry in enumerate(read.get("recipe", ())):
        at = where.at("recipe", place)
        check_languages(entry, ("names", "glass"), languages, at)
        for one, here in ((entry, at), (entry["twin"], at.at("twin"))):
            if one["id"] in (*products, *recipes):
                here.at("id").note(one["id"], N_("an id that no other product or recipe has"))
            strong = one is entry
            _check_drink(one, products, languages, here, strong=strong)
            recipes[one["id"]] = _recipe(one, entry, twin=entry["twin"]["id"] if strong else None)
    return recipes


def check_welcome(recipes: Mapping[str, Recipe], served: WelcomeDrink, where: Where) -> None:
    """Add a fault for each recipe without a small volume, where a small drink is served on arrival."""
    strong = [recipe for recipe in recipes.values() if recipe.twin]
    for place, recipe in enumerate(strong if served is WelcomeDrink.SMALL else ()):
        if recipe.small_ul is None:
            at = where.at("recipe", place, "part", 0, "small")
            at.missing(N_('a volume: site.toml says welcome_drink = "{choice}"'), choice=str(served))


def _check_drink(
    one: Entry, products: Mapping[str, Product], languages: Sequence[str], at: Where, *, strong: bool
) -> None:
    check_languages(one, ("names",), languages, at)
    for place, mixer in enumerate(one["mixer"]):
        check_languages(mixer, ("names",), languages, at.at("mixer", place))
    if len(one["part"]) > 1:
        at.at("part").note([part["product"] for part in one["part"]], _ONE_PART)
    for place, part in enumerate(one["part"]):
        _check_part(part, products, at.at("part", place), strong=strong)


def _check_part(part: Entry, products: Mapping[str, Product], at: Where, *, strong: bool) -> None:
    known = products.get(part["product"])
    if known is None and products:  # products with a fault are reported already
        at.at("product").note(part["product"], N_("one of {products}"), products=", ".join(products))
    elif known and (known.abv_e2 > 0) is not strong:
        at.at("product").note(part["product"], _STRONG if strong else _FREE)
    if (part.get("small") or 0) >= part["volume"]:
        at.at("small").note(f"{part['small']} µL", N_("less than the volume of the whole glass"))


def _recipe(one: Entry, of: Entry, twin: str | None) -> Recipe:
    mixers = tuple(Mixer(m["names"], m["volume"], m["allergens"]) for m in one["mixer"])
    part: Entry = next(iter(one["part"]), {})
    poured = part.get("product"), part.get("volume", 0), part.get("small")
    return Recipe(one["id"], one["names"], of["glass"], mixers, *poured, twin)
