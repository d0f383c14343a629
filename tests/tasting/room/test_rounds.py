"""The next sample for the whole group."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from kiosk.app import entry_kinds
from kiosk.entries.intake import Sender, take_in_entries
from kiosk.store.ledgers import new_key
from kiosk.tasting.room.rounds import guests_by_outcome, next_round, round_entries, round_outcomes
from tests.tasting_room import HALF_UL, QUARTER_UL, Tasting, tasting_site


@pytest.fixture
def six(store, now, tmp_path):
    begun = Tasting.begun(store, tasting_site(tmp_path), now, guests=6)
    begun.check(*begun.guests[:5])
    begun.now += timedelta(minutes=1)
    return begun


def poured(tasting, key=None, view=None):
    key, following = key or new_key(), next_round(view or tasting.room())
    glass = {"product": following.glass.product, "volume_ul": following.glass.volume_ul}
    sent = round_entries(key, glass, following.guests)
    sender = Sender(tasting.tablet, person_id=tasting.ana, roles=frozenset({"manager"}))
    return key, take_in_entries(
        tasting.store, tasting.site, entry_kinds(), lambda *_asked: sender, sent, tasting.now
    )


def told(tasting, key):
    with tasting.store.read() as session:
        found = guests_by_outcome(tasting.room(), round_outcomes(session, key))
    return {outcome: [tile.number for tile in some] for outcome, some in found.items() if some}


def test_the_next_sample_is_asked_for_everybody_who_may_be_served(six):
    key, answers = poured(six)
    assert [answer.outcome for answer in answers] == ["poured"] * 5
    assert told(six, key) == {"poured": [1, 2, 3, 4, 5], "not_poured": [6]}
    assert next_round(six.room()).glass.product == "anejo"


def test_who_named_an_allergen_in_the_glass_is_asked_by_themselves(six):
    cream = {**six.site.products, "blanco": replace(six.site.products["blanco"], allergens=("milk",))}
    six.site = replace(six.site, products=cream)
    six.named(six.guests[1], ["milk"])
    key, _ = poured(six)
    assert told(six, key) == {"poured": [1, 3, 4, 5], "not_poured": [2, 6]}
    assert six.pour(six.guests[1]).outcome == "poured"  # asked, and not refused
    assert next_round(six.room()).guests == tuple(six.guests[:5])  # nothing of it in the next glass


def test_who_takes_none_and_who_is_under_age_are_told_alike_and_get_no_alcohol(six):
    six.mark(six.guests[1], "no_alcohol")
    six.mark(six.guests[2], "under_age")
    key, _ = poured(six)
    assert told(six, key) == {"poured": [1, 4, 5], "alcohol_free": [2, 3], "not_poured": [6]}
    assert [tile.samples for tile in six.room().tiles] == [1, 0, 0, 1, 1, 0]


def test_each_is_decided_on_their_own_and_who_left_is_not_asked(six):
    for _ in range(3):
        six.pour(six.guests[0], "jengibre", HALF_UL)
    six.mark(six.guests[1], "gone")
    six.mark(six.guests[2], "service_stopped")
    key, _ = poured(six)
    assert told(six, key) == {"poured": [4, 5], "not_poured": [1, 3, 6]}


def test_a_guest_who_had_it_or_skips_it_waits_for_the_next_round(six):
    first, second, *rest = six.guests
    six.pour(first, "blanco")
    six.mark(second, "declined", "blanco")
    following = next_round(six.room())
    assert (following.glass.product, following.guests) == ("blanco", tuple(rest[:3]))
    poured(six)
    assert next_round(six.room()).guests == tuple(six.guests[:5])


def test_a_guest_who_can_have_no_more_does_not_hold_the_round_back(six):
    for _ in range(3):
        six.pour(six.guests[0], "jengibre", HALF_UL)
    poured(six)
    following = next_round(six.room())
    assert (following.glass.product, six.guests[0] in following.guests) == ("anejo", False)


def test_a_round_sent_twice_pours_once(six):
    view = six.room()
    key, first = poured(six, view=view)
    assert poured(six, key, view)[1] == first
    assert sum(tile.samples for tile in six.room().tiles) == 5


def test_after_the_last_sample_there_is_no_round(six):
    for _ in range(2):
        poured(six)
    assert next_round(six.room()) is None


def test_a_key_of_no_round_tells_nothing(six):
    assert told(six, "x") == told(six, new_key()) == {}


def test_a_round_takes_its_glass_in_the_flights_size(six):
    assert next_round(six.room()).glass.volume_ul == QUARTER_UL
