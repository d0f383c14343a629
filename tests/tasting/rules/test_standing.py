"""Where a guest stands, read under the guest's lock in two queries."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import event

from kiosk.figures.drinks import ServiceState
from kiosk.store.errors import NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.tasting.rules.standing import lock_and_read_guest
from tests.databases import NOW
from tests.plans import scanned
from tests.tasting_room import Tasting, tasting_site

# As long as a house's list of releases and of confirmed rules ("anon_1": the newest of them);
# a room's latest bottles of one product, so many at most, and the one of them that is open.
OF_THE_HOUSE = {"releases", "policies", "anon_1", "recent", "opened"}


def standing(tasting, guest, key=None, product=""):
    with tasting.store.write() as session:
        return lock_and_read_guest(session, tasting.site, guest, key or new_key(), tasting.now, product)


def test_a_standing_holds_state_servings_steps_rules_and_the_key(tasting):
    first = tasting.guests[0]
    tasting.step("start")
    poured = tasting.pour(first)
    refused = tasting.pour(tasting.guests[1])
    found = standing(tasting, first, poured.key)
    assert found.guest.state is ServiceState.MAY_BE_SERVED
    assert [one.key for one in found.served] == [poured.key]
    assert (found.guest.tour_started_at, found.guest.tour_ended_at) == (tasting.now, None)
    assert (found.known, found.of_today) == ("pours", True)
    assert found.policy_key
    assert standing(tasting, first, refused.key).known == "refusals"
    assert standing(tasting, first).known == ""


def test_a_glass_moved_here_is_among_the_servings_and_gone_from_there(tasting):
    first, second = tasting.guests
    poured = tasting.pour(first)
    tasting.correct(poured.key, "to_guest", second)
    assert [one.key for one in standing(tasting, second).served] == [poured.key]
    assert standing(tasting, first).served == []


def test_however_much_was_poured_two_queries_are_asked(tasting):
    for _ in range(4):
        tasting.pour(tasting.guests[0])
    seen = []

    def note(*args):
        seen.append(args[2])

    event.listen(tasting.store.engine, "before_cursor_execute", note)
    standing(tasting, tasting.guests[0])
    event.remove(tasting.store.engine, "before_cursor_execute", note)
    assert len([sql for sql in seen if "SELECT" in sql]) == 2


ELSEWHERE_OR_NOT_NOW = [
    {"rooms": ["cellar"]},
    {"from_on": date(2026, 6, 17)},
    {"from_on": date(2026, 6, 1), "until_on": date(2026, 6, 15)},
    {"ended_at": NOW},
]


@pytest.mark.parametrize("changes", ELSEWHERE_OR_NOT_NOW)
def test_of_a_product_only_what_is_released_in_this_room_now_is_at_hand(tasting, changes):
    here = standing(tasting, tasting.guests[0], product="blanco").released
    with tasting.store.write() as session:
        tasting.release(session, "blanco", tasting.site.service_day(tasting.now), **changes)
    assert standing(tasting, tasting.guests[0], product="blanco").released == here
    assert [(one.product, one.abv_e2, one.abv_basis) for one in here] == [("blanco", None, "label")]


def test_an_unknown_guest_stands_nowhere(tasting):
    with pytest.raises(NoSuchRow):
        standing(tasting, 9999)


def test_a_tap_reads_no_entries_of_other_guests(sqlite_store, tmp_path, now):
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now)
    tasting.check()
    for _ in range(2):
        tasting.pour(tasting.guests[0])
    read = scanned(sqlite_store, lambda: tasting.pour(tasting.guests[0]))
    assert read <= OF_THE_HOUSE
    assert scanned(sqlite_store, tasting.room) <= OF_THE_HOUSE
