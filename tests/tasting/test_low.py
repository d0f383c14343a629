"""Which products run low: the open bottles against what those still at the table may be poured."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kiosk.tasting.low import Low, low
from tests.bar import opened, told
from tests.tasting_room import QUARTER_UL


@pytest.fixture
def level(tasting):
    """Open a bottle of blanco and one of anejo, the blanco down to a level in µL."""

    def opened_at(level_ul):
        bottle = opened(tasting)
        opened(tasting, "anejo")
        told(tasting, bottle, "spill", volume_ul=750_000 - level_ul)
        tasting.now += timedelta(minutes=1)

    return opened_at


def running_low(tasting):
    view = tasting.room()
    with tasting.store.read() as session:
        return low(session, tasting.site, view)


def test_a_room_that_keeps_no_bottles_on_record_runs_low_of_nothing(tasting):
    assert running_low(tasting) == []


def test_a_product_of_which_no_bottle_is_open_is_low(tasting):
    opened(tasting)
    assert running_low(tasting) == [Low("anejo", 0, 2 * QUARTER_UL)]


@pytest.mark.parametrize(("missing_ul", "is_low"), [(0, False), (1, True)])
def test_a_bottle_is_low_once_it_holds_less_than_all_who_may_be_served_still_need(
    tasting, level, missing_ul, is_low
):
    level(2 * QUARTER_UL - missing_ul)
    assert running_low(tasting) == ([Low("blanco", 2 * QUARTER_UL - 1, 2 * QUARTER_UL)] if is_low else [])


def test_what_a_guest_at_the_table_has_had_is_needed_no_more(tasting, level):
    level(2 * QUARTER_UL - 1)
    tasting.pour(tasting.guests[0])
    assert running_low(tasting) == [Low("blanco", QUARTER_UL - 1, QUARTER_UL)]


@pytest.mark.parametrize(
    ("kind", "level_ul", "needs_ul"),
    [
        ("mis_tap", 2 * QUARTER_UL - 1, 2 * QUARTER_UL),  # it never left the bottle
        ("not_served", QUARTER_UL - 1, 2 * QUARTER_UL),
        ("cleared", QUARTER_UL - 1, 2 * QUARTER_UL),
        ("left", QUARTER_UL - 1, QUARTER_UL),  # it was served, and not drunk up
    ],
)
def test_a_glass_that_did_not_reach_its_guest_is_still_to_pour(tasting, level, kind, level_ul, needs_ul):
    level(2 * QUARTER_UL - 1)
    tasting.correct(tasting.pour(tasting.guests[0]).key, kind)
    assert running_low(tasting) == [Low("blanco", level_ul, needs_ul)]


@pytest.mark.parametrize("mark", ["none_today", "under_age", "stopped", "gone"])
def test_nothing_is_needed_for_a_guest_who_is_served_no_more(tasting, level, mark):
    level(QUARTER_UL - 1)
    tasting.mark(tasting.guests[1], mark)
    assert running_low(tasting) == [Low("blanco", QUARTER_UL - 1, QUARTER_UL)]


def test_the_glasses_of_another_product_are_no_part_of_it(tasting, level):
    level(2 * QUARTER_UL)
    tasting.pour(tasting.guests[0], "anejo")
    assert running_low(tasting) == []
