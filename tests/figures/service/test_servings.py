"""The spirit in a glass, the state of a guest by their marks, and pours with their corrections."""

from __future__ import annotations

import doctest
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Kind,
    Limit,
    Part,
    ServicePolicy,
    cost,
    counted_abv_e2,
    parse_volume_ul,
    serving,
    standard_drinks,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.service import servings as module
from kiosk.figures.service.policy import ServiceState
from kiosk.figures.service.servings import Mark, Pour, PourMark, Served, counted, guest_gone, guest_state

OUNCE = parse_volume_ul("1 fl oz", round_up=False)
JUICE = Part("pineapple", 90_000, allergens=("sulphites",))


def test_the_welcome_drink_is_half_a_us_drink_and_two_thirds_of_an_ounce_and_a_half():
    # 1 fl oz of a 30 % infusion in juice: 0.5 US drinks; of 1.5 fl oz two quarter-ounces are left
    glass = serving([Part("jengibre", OUNCE, 3000), JUICE])
    us = standard_drinks(Fraction(glass.spirit_ul, 1000), Fraction(glass.abv_e2, 100), STANDARD_DRINKS["US"])
    assert float(us) == pytest.approx(0.5, abs=0.0001)
    left = parse_volume_ul("1.5 fl oz", round_up=True) - glass.spirit_ul
    assert left // parse_volume_ul("0.25 fl oz", round_up=False) == 2


def test_spirit_and_ethanol_are_summed_and_mixers_count_for_nothing():
    glass = serving([Part("blanco", 20_000, 4000), Part("jengibre", 10_000, 3000), JUICE])
    assert (glass.spirit_ul, glass.ethanol) == (30_000, 20_000 * 4000 + 10_000 * 3000)
    assert glass.spirits == ("blanco", "jengibre")


def test_allergens_are_the_union_of_juice_cream_and_garnish_too():
    parts = [
        Part("crema", 10_000, 1700, ("milk", "nuts")),
        JUICE,
        Part("rim", 0, 0, ("nuts", "sesame"), liquid=False),
    ]
    assert serving(parts).allergens == ("milk", "nuts", "sulphites", "sesame")


@pytest.mark.parametrize(
    ("parts", "neat", "liquids"),
    [
        ([Part("blanco", 7393, 4000)], True, 1),
        ([Part("blanco", 7393, 4000), Part("anejo", 7393, 4200)], True, 2),
        ([Part("blanco", 7393, 4000), JUICE], False, 2),
        ([Part("blanco", 7393, 4000), Part("ice", 40_000, liquid=False)], False, 1),
        ([Part("blanco", 7393, 4000), Part("blanco", 7393, 4000)], True, 1),
        ([Part("blanco", 7393, 4000), Part("nothing", 0)], True, 1),
        ([JUICE], False, 1),
    ],
)
def test_neat_and_mixed_are_told_apart_and_liquids_counted(parts, neat, liquids):
    glass = serving(parts)
    assert (glass.neat, glass.liquids) == (neat, liquids)


def test_a_mixture_of_spirits_is_as_strong_as_both_together_rounded_up():
    assert serving([Part("a", 10_000, 4000), Part("b", 10_000, 4500)]).abv_e2 == 4250
    assert serving([Part("a", 10_000, 4000), Part("b", 20_000, 4001)]).abv_e2 == 4001  # 4000.67


def test_limits_on_size_and_volume_see_the_spirit_part():
    rules = ServicePolicy(
        21,
        "house",
        2026,
        (Limit("largest", Kind.LARGEST, "pour", 14_787), Limit("day", Kind.VOLUME, "day", 44_361)),
    )
    asked = cost(rules, serving([Part("blanco", 14_786, 4000), JUICE]).offer("punch"))
    assert (asked.never, asked.amounts) == ((), {"day": 14_786})
    asked = cost(rules, serving([Part("blanco", 14_788, 4000)]).offer("punch"))
    assert asked.never == ("largest",)


def test_one_spirit_from_elsewhere_makes_the_glass_so_and_a_mixer_from_elsewhere_does_not():
    own, foreign = Part("blanco", 7393, 4000), Part("brandy", 7393, 4000, own=False)
    assert not serving([own, foreign]).offer("pair").own
    assert serving([own, Part("cola", 90_000, own=False)]).offer("long").own


def test_a_glass_without_spirit_is_free():
    for glass in (serving([JUICE]), serving([])):
        assert glass.offer("ponche-sin").free
        assert glass.abv_e2 == 0


def test_an_offer_of_a_glass_may_be_of_what_is_not_approved():
    assert not serving([Part("blanco", 7393, 4000)]).offer("trial", approved=False).approved


@pytest.mark.parametrize(("volume_ul", "abv_e2"), [(-1, 4000), (1000, -1), (1000, 10_001)])
def test_a_part_that_cannot_be_is_refused(volume_ul, abv_e2):
    with pytest.raises(FigureError):
        Part("x", volume_ul, abv_e2)


@pytest.mark.parametrize(
    ("abv_e2", "basis", "before_e2", "counts"),
    [
        (2600, "label", None, 2600),
        (2600, "laboratory", 6000, 2600),
        (None, "not_known", 6000, 6000),
        (2600, "not_known", 6000, 6000),  # a hydrometer reads too low in sugar
        (6500, "not_known", 6000, 6500),
        (None, "distilled", 6000, 6000),
    ],
)
def test_a_strength_that_is_not_known_counts_as_the_spirits_before_fruit_and_water(
    abv_e2, basis, before_e2, counts
):
    assert counted_abv_e2(abv_e2, basis, before_e2) == counts


def test_where_nothing_bounds_the_strength_it_is_refused():
    with pytest.raises(FigureError):
        counted_abv_e2(None, "not_known")


parts = st.builds(
    Part,
    st.sampled_from(["a", "b", "c"]),
    st.integers(0, 60_000),
    st.integers(0, 10_000),
    st.lists(st.sampled_from(["milk", "nuts"]), max_size=2).map(tuple),
)


@given(st.lists(parts, max_size=5), parts)
def test_the_offer_never_holds_less_ethanol_than_the_glass_and_a_part_more_never_less(given_parts, more):
    glass, fuller = serving(given_parts), serving([*given_parts, more])
    offer = glass.offer("x")
    assert glass.ethanol <= offer.volume_ul * offer.abv_e2 < glass.ethanol + max(glass.spirit_ul, 1)
    assert fuller.ethanol >= glass.ethanol
    assert fuller.spirit_ul >= glass.spirit_ul
    assert set(fuller.allergens) >= set(glass.allergens)


@given(st.lists(parts, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_the_parts_does_not_matter(given_parts, chance):
    shuffled = list(given_parts)
    chance.shuffle(shuffled)
    one, other = serving(given_parts), serving(shuffled)
    assert one.offer("x") == other.offer("x")
    assert set(one.allergens) == set(other.allergens)


def test_the_example_in_the_docstring_runs():
    assert doctest.testmod(module).failed == 0


NOON = datetime(2026, 6, 16, 12, tzinfo=UTC)
ANA, BEA = 1, 2


def marks(*entries):
    """Make marks one minute apart from kinds, or from (kind, by)."""
    pairs = [entry if isinstance(entry, tuple) else (entry, ANA) for entry in entries]
    return [Mark(f"{n:032x}", NOON + timedelta(minutes=n), kind, by) for n, (kind, by) in enumerate(pairs)]


STATES = [
    ((), ServiceState.NOT_CHECKED),
    (("briefed", "liked", "declined"), ServiceState.NOT_CHECKED),
    (("id_check",), ServiceState.MAY_BE_SERVED),
    (("id_check", "no_alcohol"), ServiceState.NO_ALCOHOL),
    (("id_check", "no_alcohol", "no_alcohol_lifted"), ServiceState.MAY_BE_SERVED),
    (("no_alcohol", "no_alcohol_lifted"), ServiceState.NOT_CHECKED),
    (("under_age",), ServiceState.UNDER_AGE),
    (("id_check", "under_age"), ServiceState.UNDER_AGE),
    (("under_age", "no_alcohol_lifted"), ServiceState.UNDER_AGE),
    (("under_age", "id_check"), ServiceState.UNDER_AGE),  # the same person changed their mind
    (("under_age", ("id_check", BEA)), ServiceState.MAY_BE_SERVED),
    (("under_age", ("id_check", None)), ServiceState.UNDER_AGE),
    (("id_check", "service_stopped"), ServiceState.SERVICE_STOPPED),
    (("id_check", "service_stopped", "id_check"), ServiceState.SERVICE_STOPPED),
    (("id_check", "service_stopped", "service_resumed"), ServiceState.MAY_BE_SERVED),
    (("service_stopped", "service_resumed"), ServiceState.NOT_CHECKED),
]


@pytest.mark.parametrize(("kinds", "state"), STATES)
def test_marks_make_a_state(kinds, state):
    assert guest_state(marks(*kinds)) is state


@pytest.mark.parametrize(("kinds", "state"), [case for case in STATES if len(case[0]) == 3])
def test_any_order_of_arrival_makes_the_same_state(kinds, state):
    assert {guest_state(order) for order in permutations(marks(*kinds))} == {state}


def unproven(one):
    return replace(one, checked=False)


@pytest.mark.parametrize(
    ("before", "opening"),
    [
        ((), "id_check"),
        ((("under_age", BEA),), "id_check"),
        (("id_check", "no_alcohol"), "no_alcohol_lifted"),
        (("id_check", "service_stopped"), "service_resumed"),
    ],
)
def test_a_mark_that_opens_counts_for_nothing_where_its_maker_is_only_claimed(before, opening):
    *earlier, last = marks(*before, opening)
    assert guest_state([*earlier, unproven(last)]) is guest_state(earlier)
    assert guest_state([*earlier, last]) is ServiceState.MAY_BE_SERVED


def test_a_mark_that_stops_counts_whoever_made_it():
    for kind in ("under_age", "no_alcohol", "service_stopped"):
        first, stopped = marks("id_check", kind)
        assert guest_state([first, unproven(stopped)]) is guest_state([first, stopped])


def test_nobody_who_marked_a_guest_under_age_lifts_it_also_where_another_marked_them_later():
    both = ("under_age", ("under_age", BEA))
    for by in (ANA, BEA):
        assert guest_state(marks(*both, ("id_check", by))) is ServiceState.UNDER_AGE
    assert guest_state(marks(*both, ("id_check", 3))) is ServiceState.MAY_BE_SERVED
    lifted_before = ("under_age", ("id_check", BEA), ("under_age", BEA), ("id_check", ANA))
    assert guest_state(marks(*lifted_before)) is ServiceState.MAY_BE_SERVED


@pytest.mark.parametrize("kind", ["void", "not_served", "cleared", "reassign", "unfinished", "finished"])
def test_a_correction_gives_nothing_back_where_its_maker_is_only_claimed(kind):
    one, taken_back = pour(0), correction(kind, guest_id=2 if kind == "reassign" else None)
    assert counted([one], [unproven(taken_back)]) == counted([one], [])
    assert counted([one], [taken_back]) != counted([one], [])


def test_gone_and_back():
    gone, back = marks("gone", "back")
    assert guest_gone([gone, unproven(back)])
    assert not guest_gone(marks("id_check"))
    assert guest_gone(marks("gone"))
    assert not guest_gone(marks("gone", "back"))


def pour(number, guest_id=1, *, place_only=False):
    return Pour(f"{number:032x}", NOON, None if place_only else guest_id, 7, "blanco", 7393, 4000)


def correction(kind, *, minute=1, guest_id=None, of=0):
    return PourMark(f"{minute:031x}c", NOON + timedelta(minutes=minute), f"{of:032x}", kind, guest_id)


@pytest.mark.parametrize("kind", ["void", "not_served", "cleared"])
def test_what_was_not_served_is_given_back(kind):
    assert counted([pour(0)], [correction(kind)]) == []


def test_what_was_left_in_the_glass_still_counts():
    assert [s.guest_id for s in counted([pour(0)], [correction("unfinished")])] == [1]


@pytest.mark.parametrize("kind", ["unfinished", "finished"])
def test_a_glass_that_is_empty_or_left_counts_and_stands_no_longer(kind):
    (standing,) = counted([pour(0)], [])
    (done,) = counted([pour(0)], [correction(kind, minute=9)])
    assert (standing.done_at, done.done_at) == (None, NOON + timedelta(minutes=9))
    assert done.ethanol == standing.ethanol


def test_a_glass_that_went_to_another_guest_stands_before_them():
    marked = [correction("unfinished", minute=1), correction("reassign", minute=2, guest_id=2)]
    (served,) = counted([pour(0)], marked)
    assert (served.guest_id, served.done_at) == (2, None)


def test_a_glass_that_went_to_another_guest_counts_for_them_from_when_it_was_poured():
    (served,) = counted([pour(0)], [correction("reassign", guest_id=2)])
    assert (served.guest_id, served.at) == (2, NOON)


def test_a_glass_set_out_counts_from_when_its_guest_sat_down():
    assert counted([pour(0, place_only=True)], []) == []
    (served,) = counted([pour(0, place_only=True)], [correction("seated", minute=9, guest_id=3)])
    assert (served.guest_id, served.at) == (3, NOON + timedelta(minutes=9))


def test_a_glass_set_out_that_is_told_to_have_gone_to_a_guest_counts_from_then():
    (served,) = counted([pour(0, place_only=True)], [correction("reassign", minute=9, guest_id=3)])
    assert (served.guest_id, served.at) == (3, NOON + timedelta(minutes=9))


def test_what_counts_says_all_that_was_poured_and_what_became_of_it():
    later = [NOON + timedelta(minutes=minute) for minute in range(4)]
    mixed = Pour(f"{0:032x}", NOON, 1, 7, "blanco", 7393, 4000, False, "punch")
    moved = [correction("reassign", minute=1, guest_id=2), correction("finished", minute=3)]
    assert counted([mixed], moved) == [
        Served(f"{0:032x}", NOON, 2, 7, "blanco", 7393, 4000, False, later[3], "punch", False, later[1])
    ]
    seated = [correction("seated", minute=2, guest_id=3)]
    assert counted([pour(0, place_only=True)], seated) == [
        Served(f"{0:032x}", later[2], 3, 7, "blanco", 7393, 4000, True, None, None, True, None)
    ]


def test_a_glass_before_a_guest_is_not_seated_again():
    (served,) = counted([pour(0)], [correction("seated", minute=2, guest_id=3)])
    assert (served.guest_id, served.at, served.preset) == (1, NOON, False)


def test_a_glass_is_called_by_its_recipe_and_holds_its_ethanol():
    plain = Served("k", NOON, 1, 7, "blanco", 7393, 4000)
    assert (plain.glass, plain.ethanol) == ("blanco", 7393 * 4000)
    assert Served("k", NOON, 1, 7, "blanco", 7393, 4000, recipe="punch").glass == "punch"
    assert (plain.neat, plain.preset) == (True, False)


@pytest.mark.parametrize(
    ("kinds", "state"),
    [
        (("no_alcohol", "under_age"), ServiceState.UNDER_AGE),
        (("no_alcohol", "under_age", "service_stopped"), ServiceState.SERVICE_STOPPED),
        (("under_age", ("under_age", BEA), ("id_check", 3)), ServiceState.MAY_BE_SERVED),
    ],
)
def test_what_forbids_most_is_the_state(kinds, state):
    assert guest_state(marks(*kinds)) is state


def test_marks_of_one_instant_are_in_the_order_of_their_keys():
    both = [Mark("b", NOON, "gone"), Mark("a", NOON, "back")]
    assert guest_gone(both)
    assert not guest_gone([Mark("a", NOON, "gone"), Mark("b", NOON, "back")])


def test_a_part_may_be_nothing_or_pure_alcohol():
    assert not Part("ice", 0, 0).is_spirit
    assert not Part("juice", 90_000, 0).is_spirit
    assert not Part("empty", 0, 10_000).is_spirit
    assert Part("drop", 1, 1).is_spirit
    assert Part("pure", 1, 10_000).abv_e2 == 10_000
    assert (Part("x", 1).own, Part("x", 1).liquid) == (True, True)


def test_nothing_brings_back_a_glass_that_was_undone():
    assert counted([pour(0)], [correction("void"), correction("reassign", minute=2, guest_id=2)]) == []


KINDS = st.sampled_from(["void", "not_served", "cleared", "reassign", "unfinished", "finished", "seated"])


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
