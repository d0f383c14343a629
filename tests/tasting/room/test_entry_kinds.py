"""What is kept of a held row of a tablet once its time is over."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.app import entry_kinds
from kiosk.entries.intake import Sender, take_in_entries
from kiosk.store.ledgers import new_key
from kiosk.store.tables.production import held
from kiosk.tasting.room.entry_kinds import forget_held, kept

KEY = new_key()
WHOLE = {
    "ledger": "pours",
    "key": KEY,
    "guest": 7,
    "by": 2,
    "product": "blanco",
    "volume_ul": 7393,
    "neat": True,
    "asked": False,
    "at": "2026-06-16T15:00:00+00:00",
}


def test_a_row_that_says_only_what_counts_is_kept_as_it_is() -> None:
    assert kept(WHOLE, {"blanco"}) == WHOLE
    of_a_table = {"tour": 3, "pours": [KEY, new_key()]}
    assert kept({**of_a_table, "seat": "Perpetua"}, ()) == of_a_table
    assert kept({"ledger": "marks", "kind": "service_stopped", "pour": KEY}, ()) == {
        "ledger": "marks",
        "kind": "service_stopped",
        "pour": KEY,
    }


@pytest.mark.parametrize(
    "value", ["Perpetua", "787 555 0100", ["Perpetua"], {"name": "Perpetua"}, 10**12, -1]
)
@pytest.mark.parametrize("name", [*WHOLE, "detail", "note", "pour", "pours", "tour", "seat", "kind"])
def test_no_part_keeps_a_word_or_a_number_that_is_not_of_its_kind(name: str, value: object) -> None:
    assert kept({name: value}, {"blanco"}) == {}


def test_an_unknown_part_is_not_kept_whatever_it_is() -> None:
    assert kept({"Perpetua": 7, "phone": 7875550100}, {"blanco"}) == {}


def test_of_a_held_row_the_name_of_a_mixed_glass_is_kept_as_that_of_a_product_is(tasting) -> None:
    for product in ("blanco", "welcome", "Perpetua"):
        row = {**WHOLE, "key": new_key(), "by": tasting.ana, "guest": 999, "product": product}
        take_in_entries(
            tasting.store,
            tasting.site,
            entry_kinds(),
            lambda *_asked: Sender(tasting.tablet),
            [row],
            tasting.now,
        )
    forget_held(tasting.store, tasting.site, tasting.now + timedelta(days=1), lambda: None)
    with tasting.store.read() as session:
        left = [row.get("product") for row in session.scalars(select(held.c.payload).order_by(held.c.id))]
    assert left == ["blanco", "welcome", None]
