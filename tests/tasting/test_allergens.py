"""What of a glass concerns a guest who named an allergen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kiosk.site.products import ALLERGENS
from kiosk.tasting.allergens import ASKED_TOO, concerning, in_glass
from tests.tasting_room import PRODUCTS, product, tasting_site

COCO = replace(product("coco", 2600), allergens=("milk", "coconut"))
BREAD = replace(product("bread", 3000), allergens=("wheat",))


@pytest.fixture
def site(tmp_path):
    return tasting_site(tmp_path, products={**PRODUCTS, "coco": COCO, "bread": BREAD})


@pytest.mark.parametrize(
    ("code", "named", "found"),
    [
        ("coco", ["milk"], ("milk",)),
        ("coco", ["coconut", "milk"], ("milk", "coconut")),
        ("coco", ["fish"], ()),
        ("coco", [], ()),
        ("coco", None, ()),  # nobody asked, or it was purged
        ("blanco", ["milk"], ()),
        # FDA guidance, edition 5 (January 2025): coconut is no longer a tree nut of the American list.
        ("coco", ["nuts"], ("coconut",)),
        ("coco", ["peanuts"], ()),
        # 21 U.S.C. 321(qq) names wheat; Regulation (EU) No 1169/2011, Annex II cereals with gluten.
        ("bread", ["gluten"], ("wheat",)),
    ],
)
def test_what_a_guest_named_is_found_in_the_glass(site, code, named, found):
    assert concerning(site, code, named) == found


def test_a_mixed_glass_holds_what_its_juice_cream_and_garnish_hold(site):
    rum = {**site.products, "jengibre": replace(product("jengibre", 3000), allergens=("coconut",))}
    assert in_glass(replace(site, products=rum), "welcome") == ("coconut", "milk", "sulphites")
    assert in_glass(site, "welcome-sin") == ("sulphites",)
    assert concerning(site, "welcome", ["milk"]) == ("milk",)
    assert concerning(site, "welcome-sin", ["milk"]) == ()


def test_a_product_that_the_site_does_not_list_tells_nothing(site):
    assert in_glass(site, "ensayo-1") == ()


def test_what_is_asked_too_is_known_by_code():
    assert {one for name, more in ASKED_TOO.items() for one in (name, *more)} <= set(ALLERGENS)
