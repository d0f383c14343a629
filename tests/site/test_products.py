"""Allergens by name, and told apart where the European and the American list differ.

Mixed glasses and their alcohol-free twins, as a site writes them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from kiosk.figures.drinks import parse_volume_ul
from kiosk.site.loading import load_site
from kiosk.site.products import (
    ABV_BASES,
    ALLERGEN_WORDS,
    ALLERGENS,
    BASIS_WORDS,
    EU_ALLERGENS,
    US_ALLERGENS,
    allergen_names,
    allergens_of,
    short_name,
)
from kiosk.site.settings import WelcomeDrink
from tests.tasting_room import product
from tests.words.readers import ENGLISH, SPANISH

Break = Callable[..., list[str]]


def test_the_demo_pours_eight_spirits_and_one_cordial_without_alcohol(folder: Path) -> None:
    products = load_site(folder).products
    assert [(p.id, p.abv_e2, p.abv_basis) for p in products.values()] == [
        ("blanco", 4000, "label"),
        ("anejo", 4200, "label"),
        ("reserva", 4500, "label"),
        ("cepa", 4600, "label"),
        ("cacao", 3500, "label"),
        ("pina", 3200, "label"),
        ("jengibre", 3000, "label"),
        ("coco", 2600, "label"),
        ("ponche-sin", 0, "label"),
    ]
    weakest = products["coco"]
    assert weakest.legal_class["en"].startswith("Coconut liqueur")
    assert (weakest.sugar_g_per_l, weakest.allergens) == (210, ("coconut",))


def test_a_product_is_the_houses_own_unless_it_says_otherwise(broken: Break, folder: Path) -> None:
    assert not broken("products.toml", 'id = "anejo"', 'id = "anejo"\nown = false')
    products = load_site(folder).products
    assert (products["blanco"].own, products["anejo"].own) == (True, False)


@pytest.mark.parametrize("written", ["57.1", "0.05", "29.99", "40"])
def test_a_strength_is_kept_as_written(broken: Break, folder: Path, written: str) -> None:
    assert not broken("products.toml", "abv_percent = 40.0", f"abv_percent = {written}")
    assert load_site(folder).products["blanco"].abv_e2 == round(float(written) * 100)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            'names = { en = "Loma Candil Blanco", es = "Loma Candil Blanco" }\n',
            "",
            "product[1].names is missing. Needed: a text for each of the site's languages",
        ),
        (
            'legal_class = { en = "Rum", es = "Ron" }\n',
            "",
            "product[1].legal_class is missing. Needed: a text for each",
        ),
        ("abv_percent = 40.0\n", "", "product[1].abv_percent is missing. Needed: % vol from 0 to 96"),
        ("abv_percent = 40.0", "abv_percent = 97", "product[1].abv_percent: found 97."),
        (
            'legal_class = { en = "Rum", es = "Ron" }',
            'legal_class = { en = "Rum" }',
            "legal_class.es is missing",
        ),
        ('legal_class = { en = "Rum", es', 'legal_class = { en = "Rum", fr = "Rhum", es', 'fr: found "Rhum"'),
        (
            'abv_basis = "label"',
            'abv_basis = "guess"',
            "Allowed: one of label, distilled, laboratory, not_known",
        ),
        (
            'id = "anejo"',
            'id = "blanco"',
            'product[2].id: found "blanco". Allowed: an id that no other product has',
        ),
        ('id = "anejo"', 'id = "Añejo"', "lower case letters, digits and dashes"),
        ("sugar_g_per_l = 110", 'allergens = ["ginger"]', 'found ["ginger"]. Allowed: a list of gluten,'),
        (
            "sugar_g_per_l = 110",
            "sugar = 60",
            "product[7].sugar: found 60. Allowed: only these keys: id, names",
        ),
    ],
)
def test_a_product_lacks_nothing_that_its_page_must_say(broken: Break, old: str, new: str, told: str) -> None:
    sentences = broken("products.toml", old, new)
    assert any(told in sentence and sentence.startswith("products.toml, line ") for sentence in sentences), (
        sentences
    )


def test_a_site_without_products_is_told_so(folder: Path, broken: Break) -> None:
    source = (folder / "products.toml").read_text(encoding="utf-8")
    start = source.index("[[product]]")
    (told,) = broken("products.toml", source[start:], "product = []\n")
    assert told.endswith(": product: found []. Allowed: at least one [[product]].")


PUNCH = product("punch", 2600)


@pytest.mark.parametrize(
    ("held", "names", "eu", "us", "differ"),
    [
        ((), [], [], [], False),
        (("milk", "eggs"), ["milk", "eggs"], ["milk", "eggs"], ["milk", "eggs"], False),
        (("milk", "sulphites"), ["milk", "sulfites"], ["milk", "sulfites"], ["milk"], True),
        (("coconut",), ["coconut"], [], [], True),
        (("wheat",), ["wheat"], ["wheat"], ["wheat"], False),
        (("gluten",), ["cereals with gluten"], ["cereals with gluten"], [], True),
    ],
)
def test_the_lists_are_told_apart_where_they_differ(
    held: tuple[str, ...], names: list[str], eu: list[str], us: list[str], differ: bool
) -> None:
    found = allergens_of(replace(PUNCH, allergens=held), ENGLISH)
    assert (found.names, found.on_eu_list, found.on_us_list, found.differ) == (names, eu, us, differ)


def test_names_are_in_the_readers_words() -> None:
    assert allergens_of(replace(PUNCH, allergens=("milk", "coconut")), SPANISH).names == ["leche", "coco"]


def test_a_product_that_is_no_longer_listed_tells_nothing() -> None:
    assert allergens_of(None, ENGLISH).names == []


def test_every_allergen_has_words() -> None:
    assert set(ALLERGEN_WORDS) == set(ALLERGENS)


def test_the_lists_are_as_long_as_the_law_has_them() -> None:
    # Regulation (EU) No 1169/2011, Annex II: fourteen groups. 21 U.S.C. 321(qq): nine since 2023.
    assert (len(set(EU_ALLERGENS)), len(set(US_ALLERGENS))) == (14, 9)


TWO_SPIRITS = """\
[[recipe.part]]
product = "blanco"
volume = "0.25 fl oz"

[[recipe.mixer]]
names = { en = "pineapple juice"""


def test_the_demos_welcome_drink_has_a_twin_in_the_same_glass(folder: Path) -> None:
    recipes = load_site(folder).recipes
    assert list(recipes) == ["bienvenida", "bienvenida-sin"]
    welcome, twin = recipes["bienvenida"], recipes["bienvenida-sin"]
    assert (welcome.product, welcome.twin, twin.product, twin.twin) == ("coco", "bienvenida-sin", None, None)
    assert welcome.volume_ul == parse_volume_ul("0.5 fl oz", round_up=False)
    assert welcome.small_ul == parse_volume_ul("0.25 fl oz", round_up=False)
    assert twin.glass == welcome.glass
    assert [(m.names["es"], m.volume_ul > 0, m.allergens) for m in welcome.mixers] == [
        ("jugo de piña", True, ()),
        ("crema de leche", True, ("milk",)),
        ("canela", False, ()),
    ]


def test_nobody_chose_so_the_welcome_is_without_alcohol(folder: Path, broken: Break) -> None:
    assert not broken("site.toml", 'welcome_drink = "alcohol-free on arrival"\n', "")
    assert load_site(folder).welcome_drink is WelcomeDrink.ALCOHOL_FREE


@pytest.mark.parametrize("served", list(WelcomeDrink))
def test_a_site_says_when_the_welcome_drink_is_served(folder: Path, broken: Break, served: str) -> None:
    assert not broken("site.toml", '"alcohol-free on arrival"\n\n', f'"{served}"\n\n')
    assert load_site(folder).welcome_drink == served


def test_another_time_is_refused_with_those_that_there_are(broken: Break) -> None:
    (told,) = broken("site.toml", '"alcohol-free on arrival"\n\n', '"in between"\n\n')
    assert "Allowed: one of alcohol-free on arrival, small on arrival, after the tour" in told


def test_a_small_welcome_needs_its_measure(folder: Path, broken: Break) -> None:
    assert not broken("site.toml", '"alcohol-free on arrival"\n\n', '"small on arrival"\n\n')
    (told,) = broken("products.toml", 'small = "0.25 fl oz"\n', "")
    assert told.endswith(
        "recipe[1].part[1].small is missing. Needed: a volume: "
        'site.toml says welcome_drink = "small on arrival".'
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('product = "coco"', 'product = "coffee"', 'recipe[1].part[1].product: found "coffee". Allowed: one'),
        ('product = "coco"', 'product = "ponche-sin"', "Allowed: a product with alcohol; what has none is"),
        ('small = "0.25 fl oz"', 'small = "0.5 fl oz"', "Allowed: less than the volume of the whole glass"),
        ('small = "0.25 fl oz"', 'small = "a dash"', 'part[1].small: found "a dash". Allowed: a volume such'),
        (
            '[[recipe.mixer]]\nnames = { en = "pineapple juice',
            TWO_SPIRITS,
            'recipe[1].part: found ["coco", "blanco"]. Allowed: one part: what is mixed of two spirits is a',
        ),
        ('id = "bienvenida"', 'id = "blanco"', "Allowed: an id that no other product or recipe has"),
        ('id = "bienvenida-sin"', 'id = "bienvenida"', "recipe[1].twin.id: found"),
        ('"cinnamon", es = "canela" }', '"cinnamon" }', "recipe[1].mixer[3].names.es is missing"),
        ('glass = { en = "short glass over ice", es', "glass = { es", "recipe[1].glass.en is missing"),
        ('allergens = ["milk"]', 'allergens = ["cream"]', 'mixer[2].allergens: found ["cream"]. Allowed: a'),
        (
            "[[recipe.twin.mixer]]",
            '[[recipe.twin.part]]\nproduct = "coco"\nvolume = "1 fl oz"\n\n[[recipe.twin.mixer]]',
            'recipe[1].twin.part[1].product: found "coco". Allowed: a product without alcohol',
        ),
    ],
)
def test_a_recipe_that_cannot_be_served_is_told_with_its_line(
    broken: Break, old: str, new: str, told: str
) -> None:
    sentences = broken("products.toml", old, new)
    assert any(told in one and one.startswith("products.toml, line ") for one in sentences), sentences


def test_a_glass_without_a_twin_is_refused(folder: Path, broken: Break) -> None:
    source = (folder / "products.toml").read_text(encoding="utf-8")
    (told,) = broken("products.toml", source[source.index("[recipe.twin]") :], "")
    assert told.endswith("recipe[1].twin is missing. Needed: a table [recipe.twin].")


def test_a_twin_may_pour_from_a_bottle_without_alcohol(folder: Path, broken: Break) -> None:
    part = '[[recipe.twin.part]]\nproduct = "ponche-sin"\nvolume = "1 fl oz"\n\n'
    assert not broken("products.toml", "[[recipe.twin.mixer]]", f"{part}[[recipe.twin.mixer]]")
    assert load_site(folder).recipes["bienvenida-sin"].product == "ponche-sin"


def test_all_faults_of_recipes_are_told_at_once(folder: Path, broken: Break) -> None:
    path = folder / "products.toml"
    source = path.read_text(encoding="utf-8").replace('id = "bienvenida"', 'id = "blanco"')
    path.write_text(source, encoding="utf-8")
    told = broken("products.toml", 'product = "coco"', 'product = "coffee"')
    assert len(told) == 2


def test_a_site_without_recipes_has_none(folder: Path, broken: Break) -> None:
    source = (folder / "products.toml").read_text(encoding="utf-8")
    assert not broken("products.toml", source[source.index("# Mixed glasses") :], "")
    assert load_site(folder).recipes == {}


def test_allergens_are_told_by_name_in_each_language():
    assert allergen_names(("milk", "coconut"), ENGLISH) == "milk, coconut"
    assert allergen_names(("milk", "coconut"), SPANISH) == "leche, coco"
    assert allergen_names((), SPANISH) == ""


def test_every_basis_of_a_strength_has_words() -> None:
    assert set(BASIS_WORDS) == set(ABV_BASES)


def test_a_bottle_is_drawn_by_its_tint_and_a_tint_that_is_none_is_named(folder: Path, broken: Break) -> None:
    tints = {product.id: product.tint for product in load_site(folder).products.values()}
    assert (tints["blanco"], tints["reserva"], tints["pina"]) == ("clear", "aged", "fruit")
    (fault,) = broken("products.toml", 'tint = "cacao"', 'tint = "brown"')
    assert "clear, aged, fruit, cacao" in str(fault)


@pytest.mark.parametrize(
    ("house", "short"),
    [
        ("Loma Candil", "Blanco"),
        ("Loma", "Candil Blanco"),
        ("Lo", "Loma Candil Blanco"),
        ("Loma Candil Blanco", "Loma Candil Blanco"),
    ],
)
def test_a_short_name_leaves_out_the_houses_own(folder: Path, house: str, short: str) -> None:
    site = replace(load_site(folder), name=house)
    assert short_name(site, "blanco", ENGLISH) == short
