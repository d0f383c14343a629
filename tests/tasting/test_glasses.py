"""Glasses on record with every later entry about them, held by those who are about to correct them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.figures.bottles import Fate
from kiosk.store.keys import new_key
from kiosk.tasting.errors import UnknownPour
from kiosk.tasting.glasses import hold_glasses


def glasses(tasting, *keys):
    with tasting.store.write() as session:
        return hold_glasses(session, keys)


def test_a_glass_comes_with_every_guest_who_had_it_and_what_became_of_it(tasting):
    first, second = tasting.guests
    poured, other = tasting.pour(first), tasting.pour(first)
    tasting.correct(poured.key, "to_guest", second)
    tasting.now += timedelta(minutes=1)
    tasting.correct(poured.key, "not_served")
    moved, untouched = glasses(tasting, poured.key, other.key)
    assert (moved.guests, moved.fate) == ({first, second}, Fate.CLEARED)
    assert {mark.kind for mark in moved.marks} == {"to_guest", "not_served"}
    assert (untouched.guests, untouched.fate, untouched.marks) == ({first}, Fate.SERVED, ())


def test_glasses_come_in_the_order_in_which_they_are_asked_for(tasting):
    keys = [tasting.pour(tasting.guests[0]).key for _ in range(3)]
    for asked in (sorted(keys), sorted(keys, reverse=True)):
        assert [glass.pour.key for glass in glasses(tasting, *asked)] == asked


def test_a_glass_that_is_not_on_record_is_refused(tasting):
    poured = tasting.pour(tasting.guests[0])
    for keys in ([], [new_key()], [poured.key, new_key()]):
        with pytest.raises(UnknownPour):
            glasses(tasting, *keys)
