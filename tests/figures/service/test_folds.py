"""Folds of a guest's marks and of pours with their corrections."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.service.folds import Mark, Pour, PourMark, counted, guest_gone, guest_state
from kiosk.figures.service.policy import ServiceState

NOON = datetime(2026, 6, 16, 12, tzinfo=UTC)
ANA, BEA = 1, 2


def marks(*entries):
    """Make marks one minute apart from kinds, or from (kind, by)."""
    pairs = [entry if isinstance(entry, tuple) else (entry, ANA) for entry in entries]
    return [Mark(f"{n:032x}", NOON + timedelta(minutes=n), kind, by) for n, (kind, by) in enumerate(pairs)]


STATES = [
    ((), ServiceState.NOT_CHECKED),
    (("briefed", "liked", "declined"), ServiceState.NOT_CHECKED),
    (("document",), ServiceState.MAY_BE_SERVED),
    (("document", "none_today"), ServiceState.NONE_TODAY),
    (("document", "none_today", "drinks_today"), ServiceState.MAY_BE_SERVED),
    (("none_today", "drinks_today"), ServiceState.NOT_CHECKED),
    (("under_age",), ServiceState.UNDER_AGE),
    (("document", "under_age"), ServiceState.UNDER_AGE),
    (("under_age", "drinks_today"), ServiceState.UNDER_AGE),
    (("under_age", "document"), ServiceState.UNDER_AGE),  # the same person changed their mind
    (("under_age", ("document", BEA)), ServiceState.MAY_BE_SERVED),
    (("under_age", ("document", None)), ServiceState.UNDER_AGE),
    (("document", "stopped"), ServiceState.STOPPED),
    (("document", "stopped", "document"), ServiceState.STOPPED),
    (("document", "stopped", "lifted"), ServiceState.MAY_BE_SERVED),
    (("stopped", "lifted"), ServiceState.NOT_CHECKED),
]


@pytest.mark.parametrize(("kinds", "state"), STATES)
def test_marks_make_a_state(kinds, state):
    assert guest_state(marks(*kinds)) is state


@pytest.mark.parametrize(("kinds", "state"), [case for case in STATES if len(case[0]) == 3])
def test_any_order_of_arrival_makes_the_same_state(kinds, state):
    assert {guest_state(order) for order in permutations(marks(*kinds))} == {state}


def test_gone_and_back():
    assert not guest_gone(marks("document"))
    assert guest_gone(marks("gone"))
    assert not guest_gone(marks("gone", "back"))


def pour(number, guest_id=1, *, place_only=False):
    return Pour(f"{number:032x}", NOON, None if place_only else guest_id, 7, "blanco", 7393, 4000)


def correction(kind, *, minute=1, guest_id=None, of=0):
    return PourMark(f"{minute:031x}c", NOON + timedelta(minutes=minute), f"{of:032x}", kind, guest_id)


@pytest.mark.parametrize("kind", ["mis_tap", "not_served", "cleared"])
def test_what_was_not_served_is_given_back(kind):
    assert counted([pour(0)], [correction(kind)]) == []


def test_what_was_left_in_the_glass_still_counts():
    assert [s.guest_id for s in counted([pour(0)], [correction("left")])] == [1]


@pytest.mark.parametrize("kind", ["left", "emptied"])
def test_a_glass_that_is_empty_or_left_counts_and_stands_no_longer(kind):
    (standing,) = counted([pour(0)], [])
    (done,) = counted([pour(0)], [correction(kind, minute=9)])
    assert (standing.done_at, done.done_at) == (None, NOON + timedelta(minutes=9))
    assert done.ethanol == standing.ethanol


def test_a_glass_that_went_to_another_guest_stands_before_them():
    marked = [correction("left", minute=1), correction("to_guest", minute=2, guest_id=2)]
    (served,) = counted([pour(0)], marked)
    assert (served.guest_id, served.done_at) == (2, None)


def test_a_glass_that_went_to_another_guest_counts_for_them_from_when_it_was_poured():
    (served,) = counted([pour(0)], [correction("to_guest", guest_id=2)])
    assert (served.guest_id, served.at) == (2, NOON)


def test_a_glass_set_out_counts_from_when_its_guest_sat_down():
    assert counted([pour(0, place_only=True)], []) == []
    (served,) = counted([pour(0, place_only=True)], [correction("seated", minute=9, guest_id=3)])
    assert (served.guest_id, served.at) == (3, NOON + timedelta(minutes=9))


def test_a_glass_set_out_that_is_told_to_have_gone_to_a_guest_counts_from_then():
    (served,) = counted([pour(0, place_only=True)], [correction("to_guest", minute=9, guest_id=3)])
    assert (served.guest_id, served.at) == (3, NOON + timedelta(minutes=9))


def test_nothing_brings_back_a_glass_that_was_undone():
    assert counted([pour(0)], [correction("mis_tap"), correction("to_guest", minute=2, guest_id=2)]) == []


KINDS = st.sampled_from(["mis_tap", "not_served", "cleared", "to_guest", "left", "emptied", "seated"])


@given(
    st.lists(st.tuples(KINDS, st.integers(0, 3), st.integers(1, 5), st.integers(1, 9)), max_size=8),
    st.randoms(use_true_random=False),
)
def test_any_order_of_arrival_counts_the_same(entries, random):
    pours = [pour(n, n + 1) for n in range(3)] + [pour(3, place_only=True)]
    later = [
        PourMark(f"{n:032x}", NOON + timedelta(minutes=minute), f"{of:032x}", kind, guest)
        for n, (kind, of, guest, minute) in enumerate(entries)
    ]
    expected = counted(pours, later)
    random.shuffle(pours)
    random.shuffle(later)
    assert counted(pours, later) == expected
    assert len({served.key for served in expected}) == len(expected)
