"""Mixed glasses and their alcohol-free twins, as a site writes them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.figures.drinks import parse_volume_ul
from kiosk.site.loading import load_site
from kiosk.site.settings import WelcomeDrink

Break = Callable[..., list[str]]

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
        ("nuez moscada", False, ()),
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
        ('"nutmeg", es = "nuez moscada" }', '"nutmeg" }', "recipe[1].mixer[3].names.es is missing"),
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
