"""What is kept of a held row of a tablet once its time is over."""

from __future__ import annotations

import pytest

from kiosk.store.keys import new_key
from kiosk.tasting.forgetting import kept

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
    assert kept({**of_a_table, "place": "Perpetua"}, ()) == of_a_table
    assert kept({"ledger": "marks", "kind": "stopped", "pour": KEY}, ()) == {
        "ledger": "marks",
        "kind": "stopped",
        "pour": KEY,
    }


@pytest.mark.parametrize(
    "value", ["Perpetua", "787 555 0100", ["Perpetua"], {"name": "Perpetua"}, 10**12, -1]
)
@pytest.mark.parametrize("name", [*WHOLE, "detail", "note", "pour", "pours", "tour", "place", "kind"])
def test_no_part_keeps_a_word_or_a_number_that_is_not_of_its_kind(name: str, value: object) -> None:
    assert kept({name: value}, {"blanco"}) == {}


def test_an_unknown_part_is_not_kept_whatever_it_is() -> None:
    assert kept({"Perpetua": 7, "phone": 7875550100}, {"blanco"}) == {}
