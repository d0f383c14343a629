"""What is approved where and when, and the strength that counts.

What of a glass concerns a guest who named an allergen.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from kiosk.figures.drinks import Offer
from kiosk.site.products import ALLERGENS
from kiosk.tasting.approvals.approvals import (
    ASKED_TOO,
    UnknownProduct,
    allergens_for_guest,
    allergens_in,
    approved,
    from_bottle,
    offer,
)
from tests.tasting_room import OUNCE_UL, PRODUCTS, product, tasting_site


def at_hand(tasting, room="main", days=0):
    with tasting.store.read() as session:
        return approved(session, tasting.site, room, tasting.now + timedelta(days=days))


def test_an_approval_counts_in_its_rooms_and_on_its_days(tasting):
    assert set(at_hand(tasting)) == {"blanco", "anejo", "jengibre"}
    assert at_hand(tasting, "terrace") == {}
    assert at_hand(tasting, days=-1) == {}
    assert set(at_hand(tasting, days=30)) == {"blanco", "anejo", "jengibre"}


def test_the_last_day_of_an_approval_is_inside(tasting):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        tasting.approval(session, "reserva", day, until_on=day)
    assert "reserva" in at_hand(tasting)
    assert "reserva" not in at_hand(tasting, days=1)


def test_of_two_approvals_the_stronger_counts(tasting):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        tasting.approval(session, "reserva", day, abv_e2=5800)
        tasting.approval(session, "reserva", day, abv_e2=5600)
    assert offer(tasting.site, at_hand(tasting), "reserva", 7393).abv_e2 == 5800


@pytest.mark.parametrize(
    ("abv_e2", "basis", "counts"),
    [
        (2600, "laboratory", 2600),
        (2600, "not_known", 4500),  # sugar may hide the rest: as the spirit before fruit and water
        (5800, "not_known", 5800),
    ],
)
def test_a_strength_that_is_not_known_counts_as_the_spirits_before(tasting, abv_e2, basis, counts):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        tasting.approval(session, "reserva", day, abv_e2=abv_e2, abv_basis=basis)
    assert offer(tasting.site, at_hand(tasting), "reserva", 7393).abv_e2 == counts


def test_without_a_measured_strength_the_labels_counts(tasting):
    blanco = offer(tasting.site, at_hand(tasting), "blanco", 7393)
    assert (blanco.abv_e2, blanco.approved) == (4000, True)


def test_what_is_not_approved_is_offered_as_such_and_an_unknown_product_is_refused(tasting):
    assert not offer(tasting.site, {}, "blanco", 7393).approved
    with pytest.raises(UnknownProduct):
        offer(tasting.site, {}, "nothing", 7393)


@pytest.mark.parametrize(("measured", "counts"), [(3900, 4000), (4100, 4100)])
def test_an_approval_without_a_strength_is_as_strong_as_its_product(tasting, measured, counts):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        tasting.approval(session, "blanco", day, abv_e2=measured)
    assert offer(tasting.site, at_hand(tasting), "blanco", 7393).abv_e2 == counts


def test_a_mixed_glass_is_proposed_by_its_spirit(tasting):
    found = offer(tasting.site, at_hand(tasting), "welcome", OUNCE_UL)
    # three liquids: the spirit, juice and cream; the cherry is none
    assert found == Offer("jengibre", OUNCE_UL, 3000, neat=False, liquids=3)
    assert offer(tasting.site, {}, "welcome", OUNCE_UL).approved is False


def test_a_twin_is_proposed_free_of_alcohol(tasting):
    assert offer(tasting.site, at_hand(tasting), "welcome-sin", 0).free


def test_what_comes_from_the_bottle_for_a_glass(tasting):
    found = [from_bottle(tasting.site, code) for code in ("blanco", "welcome", "welcome-sin")]
    assert found == ["blanco", "jengibre", "welcome-sin"]


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
    assert allergens_for_guest(site, code, named) == found


def test_a_mixed_glass_holds_what_its_juice_cream_and_garnish_hold(site):
    rum = {**site.products, "jengibre": replace(product("jengibre", 3000), allergens=("coconut",))}
    assert allergens_in(replace(site, products=rum), "welcome") == ("coconut", "milk", "sulphites")
    assert allergens_in(site, "welcome-sin") == ("sulphites",)
    assert allergens_for_guest(site, "welcome", ["milk"]) == ("milk",)
    assert allergens_for_guest(site, "welcome-sin", ["milk"]) == ()


def test_a_product_that_the_site_does_not_list_tells_nothing(site):
    assert allergens_in(site, "ensayo-1") == ()


def test_what_is_asked_too_is_known_by_code():
    assert {one for name, more in ASKED_TOO.items() for one in (name, *more)} <= set(ALLERGENS)
