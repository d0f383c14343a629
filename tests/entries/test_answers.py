"""What became of a tap, by its key."""

from __future__ import annotations

from kiosk.entries.answers import stored_answer
from kiosk.store.ledgers import new_key


def test_a_pour_a_refusal_and_a_key_of_neither(tasting):
    poured, refused = tasting.pour(tasting.guests[0]), tasting.pour(tasting.guests[1])
    with tasting.store.read() as session:
        assert stored_answer(session, poured.key) == poured
        assert stored_answer(session, refused.key) == refused
        assert stored_answer(session, new_key()) is None
