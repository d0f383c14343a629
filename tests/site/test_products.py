from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.site.loading import load_site

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
