"""Which sample comes next."""

from __future__ import annotations

import pytest

from kiosk.tasting.flights import Item, items, next_item

FLIGHT = (Item(1, "blanco", 7393), Item(2, "anejo", 7393), Item(3, "blanco", 14_786))


@pytest.mark.parametrize(
    ("had", "declined", "pos"),
    [
        ([], [], 1),
        (["blanco"], [], 2),
        (["anejo"], [], 1),
        (["blanco", "anejo"], [], 3),
        (["blanco", "blanco"], [], 2),
        (["blanco"], ["anejo"], 3),
        (["reserva"], [], 1),
        (["blanco", "anejo", "blanco"], [], None),
    ],
)
def test_the_first_sample_neither_had_nor_declined_comes_next(had, declined, pos):
    found = next_item(FLIGHT, had, declined)
    assert (found.pos if found else None) == pos


def test_a_flight_is_read_in_order_and_no_flight_is_empty(tasting):
    with tasting.store.read() as session:
        assert [item.product for item in items(session, 1)] == ["blanco", "anejo"]
        assert items(session, None) == ()
