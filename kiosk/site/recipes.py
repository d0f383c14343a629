"""Mixed glasses and their alcohol-free twins: `[[recipe]]` in `products.toml`.

A glass holds one product from a bottle, so that one entry says what left which
bottle. A drink of two spirits is mixed beforehand, released as a product of its
own and poured from its own jug.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kiosk.site import values
from kiosk.site.declared import SLUG
from kiosk.site.products import ALLERGENS_SETTING, TEXTS, check_languages
from kiosk.site.reader import Setting, Where, read_table
from kiosk.site.settings import Mixer, Product, Recipe, WelcomeDrink
from kiosk.words.catalogs import N_

_ID = Setting(
    "id",
    values.matching(SLUG),
    N_("lower case letters, digits and dashes"),
    "The name that records and ledgers use; shared with no product.",
)
_NAMES = Setting("names", values.by_language, TEXTS, "What it is called.")
_PRODUCT = Setting("product", values.text, N_("the id of a product"), "What comes from the bottle.")
_VOLUME = Setting("volume", values.volume_ul, values.VOLUME, "How much of it.")

MIXER = (
    _NAMES,
    Setting("volume", values.volume_ul, values.VOLUME, "How much; ice and garnish say nothing.", default=0),
    ALLERGENS_SETTING,
)
_MIXERS = Setting("mixer", values.anything, N_("a list of mixers"), "Mixers.", [], table=MIXER, many=True)
PART = (
    _PRODUCT,
    _VOLUME,
    Setting(
        "small",
        values.volume_ul,
        values.VOLUME,
        "How much of it where a small one is served on arrival.",
        default=None,
    ),
)
TWIN = (
    _ID,
    _NAMES,
    Setting(
        "part",
        values.anything,
        N_("a list of parts"),
        "What comes from a bottle.",
        [],
        table=(_PRODUCT, _VOLUME),
        many=True,
    ),
    _MIXERS,
)
RECIPE = (
    _ID,
    _NAMES,
    Setting(
        "glass", values.by_language, TEXTS, "What both are served in, so that nobody sees who has which."
    ),
    Setting("part", values.anything, N_("one [[recipe.part]]"), "The spirit.", table=PART, many=True),
    _MIXERS,
    Setting("twin", values.anything, N_("a table [recipe.twin]"), "The same without alcohol.", table=TWIN),
)
RECIPES = (
    Setting(
        "recipe", values.anything, N_("a list of recipes"), "Mixed glasses.", [], table=RECIPE, many=True
    ),
)

_ONE_PART = N_(
    "one part: what is mixed of two spirits is a product of its own, released and poured from its jug"
)
_STRONG = N_("a product with alcohol; what has none is a mixer")
_FREE = N_("a product without alcohol")


def read_recipes(
    table: Mapping[str, Any], products: Mapping[str, Product], languages: Sequence[str], where: Where
) -> dict[str, Recipe]:
    """Return the recipes by id, each followed by its twin; faults are noted."""
    read = read_table({name: table[name] for name in table if name == "recipe"}, RECIPES, where) or {}
    recipes: dict[str, Recipe] = {}
    for place, entry in enumerate(read.get("recipe", ())):
        at = where.at("recipe", place)
        check_languages(entry, ("names", "glass"), languages, at)
        for one, here in ((entry, at), (entry["twin"], at.at("twin"))):
            if one["id"] in (*products, *recipes):
                here.at("id").note(one["id"], N_("an id that no other product or recipe has"))
            strong = one is entry
            _check_glass(one, products, languages, here, strong=strong)
            recipes[one["id"]] = _recipe(one, entry, twin=entry["twin"]["id"] if strong else None)
    return recipes


def check_welcome(recipes: Mapping[str, Recipe], served: WelcomeDrink, where: Where) -> None:
    """Note each recipe that does not say how small it is, where a small one is served on arrival."""
    strong = [recipe for recipe in recipes.values() if recipe.twin]
    for place, recipe in enumerate(strong if served is WelcomeDrink.SMALL else ()):
        if recipe.small_ul is None:
            at = where.at("recipe", place, "part", 0, "small")
            at.missing(N_('a volume: site.toml says welcome_drink = "{choice}"'), choice=str(served))


def _check_glass(
    one: Mapping[str, Any],
    products: Mapping[str, Product],
    languages: Sequence[str],
    at: Where,
    *,
    strong: bool,
) -> None:
    check_languages(one, ("names",), languages, at)
    for place, mixer in enumerate(one["mixer"]):
        check_languages(mixer, ("names",), languages, at.at("mixer", place))
    if len(one["part"]) > 1:
        at.at("part").note([part["product"] for part in one["part"]], _ONE_PART)
    for place, part in enumerate(one["part"]):
        _check_part(part, products, at.at("part", place), strong=strong)


def _check_part(part: Mapping[str, Any], products: Mapping[str, Product], at: Where, *, strong: bool) -> None:
    known = products.get(part["product"])
    if known is None and products:  # where no product could be read, that is told already
        at.at("product").note(part["product"], N_("one of {products}"), products=", ".join(products))
    elif known and (known.abv_e2 > 0) is not strong:
        at.at("product").note(part["product"], _STRONG if strong else _FREE)
    if (part.get("small") or 0) >= part["volume"]:
        at.at("small").note(f"{part['small']} µL", N_("less than the volume of the whole glass"))


def _recipe(one: Mapping[str, Any], of: Mapping[str, Any], twin: str | None) -> Recipe:
    mixers = tuple(Mixer(m["names"], m["volume"], m["allergens"]) for m in one["mixer"])
    part = dict(next(iter(one["part"]), {}))
    return Recipe(
        one["id"],
        one["names"],
        of["glass"],
        mixers,
        part.get("product"),
        part.get("volume", 0),
        part.get("small"),
        twin,
    )
