"""Whether a flight fits before the day, and what would make it fit."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from itertools import combinations
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.figures.drinks import (
    STANDARD_DRINKS,
    Guest,
    Kind,
    Limit,
    Offer,
    Part,
    Room,
    Sample,
    Served,
    Server,
    ServiceHours,
    ServicePolicy,
    ServiceState,
    Sitting,
    Turn,
    decide,
    drinks_had,
    parse_drinks,
    parse_volume_ul,
    plan,
    serving,
)
from kiosk.figures.errors import Bounds, FigureError
from tests.figures.refusals import Call, refusal

US = STANDARD_DRINKS["US"]
ZONE = ZoneInfo("Etc/GMT+4")
FOUR = datetime(2026, 6, 16, 16, tzinfo=ZONE)
ROOM = Room("main", FOUR.replace(hour=5), FOUR.replace(hour=5) + timedelta(days=1), ZONE)


def ounces(text):
    return parse_volume_ul(f"{text} fl oz", round_up=False)


def most(text):
    return parse_volume_ul(f"{text} fl oz", round_up=True)


QUARTER, HALF = ounces("0.25"), ounces("0.5")
MEASURES = (HALF, QUARTER)
DAY = Limit("day", Kind.VOLUME, "day", most("1.5"))
EVERY_FIVE = Limit("gap", Kind.GAP, most=300)


def policy(*limits, **more):
    return ServicePolicy(21, "house", 2026, limits, **more)


def flight(n, volume_ul=QUARTER, abv_e2=4000):
    return [Sample(Offer(f"rum-{i}", volume_ul, abv_e2)) for i in range(n)]


def planned(samples, *limits, **more):
    given = {"drink": US, "measures_ul": MEASURES, **more}
    rules = given.pop("rules", None) or policy(*limits)
    return plan(samples, rules, **given)


def test_six_quarter_ounces_fit_and_are_one_drink():
    found = planned(flight(6), DAY)
    assert found.fits
    assert (found.refusals, found.leave_out, found.leave_out_at_smallest) == ({}, (), ())
    assert drinks_had(found.ethanol, US) == 1
    assert float(found.drinks) == pytest.approx(1, abs=0.0001)
    assert found.measure_ul == QUARTER


def test_nine_samples_would_need_pours_that_nobody_can_make():
    # nine samples in 1.5 fl oz: 44 361 / 9 = 4929 µL, smaller than any measure of the house
    found = planned(flight(9), DAY)
    assert found.largest_ul == 4929
    assert found.measure_ul is None
    assert found.refusals == {7: ("day",), 8: ("day",), 9: ("day",)}
    assert found.leave_out == (7, 8, 9)


def test_the_largest_pour_is_rounded_down_to_a_measure_of_the_house():
    found = planned(flight(4, HALF), DAY)
    assert found.leave_out == (4,)
    assert found.largest_ul == 44_361 // 4
    assert found.measure_ul == QUARTER
    assert found.leave_out_at_smallest == ()
    assert planned(flight(3, QUARTER), DAY).measure_ul == HALF
    assert planned(flight(4, HALF), DAY, measures_ul=(11_000, QUARTER)).measure_ul == 11_000


def test_where_no_measure_is_small_enough_the_smallest_leaves_out_fewest():
    found = planned(flight(7, HALF), DAY)
    assert found.leave_out == (4, 5, 6, 7)
    assert found.leave_out_at_smallest == (7,)


def test_the_fewest_are_left_out_and_of_those_the_latest():
    samples = [*flight(1, ounces("1")), *flight(3, HALF)]
    found = planned(samples, DAY)
    assert found.refusals == {3: ("day",), 4: ("day",)}
    assert found.leave_out == (1,)


def test_a_house_whose_sizes_are_set_plans_one_of_them():
    sizes = Limit("sizes", Kind.SIZES, "pour", sizes_ul=(25_000, 35_000))
    found = planned(flight(2, 20_000), sizes, measures_ul=(50_000, 35_000, 25_000, 20_000))
    assert found.refusals == {1: ("sizes",), 2: ("sizes",)}
    assert found.measure_ul == 35_000
    assert planned(flight(2, 20_000), sizes, DAY).largest_ul == most("1.5") // 2  # sizes aside


def test_a_limit_in_drinks_sees_the_strength():
    limit = Limit("drinks", Kind.DRINKS, "day", parse_drinks("1 drink", US))
    assert planned(flight(6, QUARTER, 4000), limit).fits
    stronger = planned(flight(6, QUARTER, 6300), limit)
    assert stronger.leave_out == (4, 5, 6)


WELCOME = Sample(serving([Part("jengibre", ounces("1"), 3000), Part("juice", 90_000)]).offer("welcome"))


def test_the_welcome_drink_is_counted_first():
    # of six quarter-ounces two are left after 1 fl oz of welcome in a day of 1.5 fl oz
    found = planned(flight(6), DAY, welcome=WELCOME)
    assert found.leave_out == (3, 4, 5, 6)
    assert float(found.drinks) == pytest.approx(1.5, abs=0.001)
    assert found.largest_ul == (most("1.5") - ounces("1")) // 6


def test_a_welcome_drink_on_arrival_is_had_before_the_flight():
    early = Sitting(ROOM, FOUR, welcome_at=FOUR - timedelta(hours=1))
    found = planned(flight(6), DAY, welcome=WELCOME, sitting=early)
    assert found.refusals == dict.fromkeys((3, 4, 5, 6), ("day",))
    assert found.leave_out == (3, 4, 5, 6)


def test_a_welcome_drink_that_the_rules_refuse_is_named_by_itself():
    found = planned(flight(6), rules=policy(DAY, mixers=False), welcome=WELCOME)
    assert found.refusals == {0: ("neat_only",)}
    assert found.leave_out == (0,)
    assert (found.largest_ul, found.measure_ul) == (0, None)


def test_a_welcome_drink_before_a_tour_that_must_come_first_is_refused():
    # Maryland Art. 2B s 2-202 (2014): the guided tour first
    after = replace(DAY, tour="after")
    sitting = Sitting(ROOM, FOUR, tour_started_at=FOUR - timedelta(hours=1), tour_ended_at=FOUR)
    early = replace(sitting, welcome_at=FOUR - timedelta(hours=1))
    assert planned(flight(2), after, welcome=WELCOME, sitting=early).refusals == {0: ("tour",)}
    assert planned(flight(2), after, welcome=WELCOME, sitting=sitting).fits
    assert planned(flight(2), after, sitting=replace(sitting, tour_ended_at=None)).leave_out == (1, 2)


def test_the_alcohol_free_glass_counts_for_nothing():
    samples = [*flight(6), Sample(Offer("ponche-sin", 60_000, 0))]
    found = planned(samples, DAY)
    assert found.fits
    assert found.measure_ul == QUARTER


def hours(last_pour=None):
    return (ServiceHours(frozenset(range(7)), time(9), time(18), last_pour),)


def test_samples_after_the_last_pour_time_are_left_out():
    # 22 guests, one server, 8 s a pour: 176 s a round, so the pause of 5 minutes sets the pace
    rules = policy(DAY, EVERY_FIVE, hours=hours(time(16, 20)))
    found = planned(flight(6), rules=rules, sitting=Sitting(ROOM, FOUR), guests=22)
    assert found.refusals == {5: ("hours",), 6: ("hours",)}  # 16:02:56, :07, :12, :17, then 16:22:56
    assert found.leave_out == (5, 6)
    assert found.last_pour_at == FOUR + timedelta(seconds=176, minutes=25)


def test_two_servers_and_no_pause_are_faster():
    rules = policy(DAY, hours=hours(time(16, 20)))
    one = planned(flight(6), rules=rules, sitting=Sitting(ROOM, FOUR, talk_minutes=2), guests=22)
    two = planned(flight(6), rules=rules, sitting=Sitting(ROOM, FOUR, 2, talk_minutes=2), guests=22)
    assert one.leave_out == (5, 6)
    assert two.fits
    assert two.last_pour_at == FOUR + timedelta(seconds=6 * 88, minutes=5 * 2)


def test_a_plan_over_a_change_of_the_clock_counts_real_minutes():
    # clocks in New York go from 2:00 to 3:00 on 8 March 2026
    zone = ZoneInfo("America/New_York")
    starts = datetime(2026, 3, 8, 1, 50, tzinfo=zone)
    room = Room("main", starts - timedelta(hours=1), starts + timedelta(hours=9), zone)
    found = planned(flight(3), EVERY_FIVE, sitting=Sitting(room, starts, seconds_a_pour=0.0))
    assert found.last_pour_at == datetime(2026, 3, 8, 7, 0, tzinfo=UTC)


def test_a_group_of_176_pours_takes_a_server_23_minutes():
    # 22 guests x 8 samples x 8 s (computed in the trade's own example)
    found = planned(flight(8), sitting=Sitting(ROOM, FOUR), guests=22)
    assert (found.last_pour_at - FOUR).total_seconds() / 60 == pytest.approx(23, abs=0.5)


def test_the_first_guest_may_be_too_early():
    found = planned(
        flight(2),
        rules=policy(hours=hours()),
        sitting=Sitting(ROOM, FOUR.replace(hour=8, minute=59)),
        guests=22,
    )
    assert found.refusals == {1: ("hours",)}


def test_set_out_glasses_are_served_at_once_and_stand_together():
    two = Limit("standing", Kind.GLASSES, "day", 2)
    sitting = Sitting(ROOM, FOUR)
    assert planned(flight(4), two, sitting=sitting).fits
    preset_seat = replace(sitting, preset=True)
    assert planned(flight(4), two, sitting=preset_seat).refusals == {3: ("standing",), 4: ("standing",)}
    assert planned(flight(2), EVERY_FIVE, sitting=preset_seat).fits  # no pause between glasses of one seat
    assert planned(flight(2), sitting=preset_seat, guests=22).last_pour_at == FOUR


def test_the_wrong_room_and_what_is_not_approved_are_known_before():
    rules = policy(rooms=("terrace",))
    assert planned(flight(1), rules=rules, sitting=Sitting(ROOM, FOUR)).refusals == {1: ("room",)}
    assert planned(flight(1), rules=rules).fits  # without a sitting no room is judged
    trial = Sample(Offer("trial", QUARTER, 4000, approved=False))
    assert planned([*flight(1), trial]).refusals == {2: ("not_approved",)}


def test_a_ticket_bounds_the_flight():
    # South Carolina 61-6-1140: the price rises in steps of half an ounce from one ounce
    step = Limit("step", Kind.VOLUME, "visit", most("1"), tickets=("base",))
    assert planned(flight(3, HALF), step, sitting=Sitting(ROOM, FOUR, ticket="base")).leave_out == (3,)
    assert planned(flight(3, HALF), step, sitting=Sitting(ROOM, FOUR, ticket="long")).fits


def test_bottles_are_those_of_the_whole_group_rounded_up():
    samples = [*flight(1, HALF), *flight(1, QUARTER), Sample(Offer("reserva", QUARTER, 4500), None, 700_000)]
    assert planned(samples, guests=22).bottles == {"rum-0": 1, "reserva": 1}  # 22 x 22.179 mL = 488 mL
    assert planned(samples, guests=34).bottles == {"rum-0": 2, "reserva": 1}  # 754 mL
    assert planned(samples, guests=95).bottles["reserva"] == 2  # 702 mL of 700
    assert planned(flight(1), guests=22, welcome=WELCOME).bottles == {"welcome": 1, "rum-0": 1}


def test_open_bottles_are_poured_from_first():
    # 22 guests x two quarter-ounces of one product: 325.3 mL
    samples = [Sample(Offer("rum", QUARTER, 4000)), Sample(Offer("rum", QUARTER, 4000))]
    need = 2 * 22 * QUARTER
    assert planned(samples, guests=22).to_open == {"rum": 1}
    assert planned(samples, guests=22, open_ul={"rum": need}).to_open == {"rum": 0}
    assert planned(samples, guests=22, open_ul={"rum": need - 1}).to_open == {"rum": 1}
    full = planned(samples, guests=110, open_ul={"rum": 140_000})  # 1626.5 mL: three bottles, or two
    assert (full.bottles, full.to_open) == ({"rum": 3}, {"rum": 2})


def test_a_microlitre_more_than_a_bottle_holds_takes_a_second_bottle():
    for volume_ul, bottles in ((750_000, 1), (750_001, 2)):
        found = planned([Sample(Offer("rum", volume_ul, 4000))], open_ul={"other": 9})
        assert (found.bottles, found.to_open) == ({"rum": bottles}, {"rum": bottles})


def test_what_comes_from_no_bottle_needs_none():
    juice = Sample(serving([Part("juice", 90_000)]).offer("welcome-sin"))
    assert planned(flight(1), welcome=juice).bottles == {"rum-0": 1}


def test_a_mixed_glass_keeps_its_own_size():
    mixed = Sample(Offer("rum", HALF, 4000, neat=False), fixed=True)
    found = planned([*flight(5), mixed], DAY)  # 5 x 0.25 + 0.5 = 1.75 fl oz
    assert found.leave_out == (6,)
    assert found.largest_ul == (most("1.5") - HALF) // 5
    assert planned([*flight(5), mixed], DAY, measures_ul=(QUARTER, 5_000)).measure_ul == 5_000


def tasted(*glasses):
    return [Sample(Offer("x", QUARTER, abv_e2), sugar) for abv_e2, sugar in glasses]


@pytest.mark.parametrize(
    ("glasses", "turns"),
    [
        ([(4000, None), (4200, None), (4500, None)], ()),
        ([(4500, None), (4000, None)], (Turn(1, "stronger"),)),
        ([(3000, 60), (4000, 0)], (Turn(1, "sweeter"),)),
        ([(3000, 60), (3000, 20)], (Turn(1, "sweeter"),)),
        ([(3000, 0.5), (3000, None)], (Turn(1, "sweeter"),)),  # by however little
        ([(4000, None), (4000, None)], ()),  # of one strength and one sweetness: nothing lighter follows
        ([(4000, 20), (4000, 20)], ()),
        ([(4500, None), (3000, 60)], ()),  # the sweet one last: weaker, and no lighter
        ([(4500, None), (0, None), (4000, None)], (Turn(1, "stronger"),)),  # water between changes nothing
        ([(4000, None), (0, None), (4200, None)], ()),
        ([(0, 90), (4000, None)], ()),
        ([(4500, 0), (4000, 0), (3000, 0)], (Turn(1, "stronger"), Turn(2, "stronger"))),
    ],
)
def test_a_flight_that_goes_to_something_lighter_is_warned_of(glasses, turns):
    assert planned(tasted(*glasses)).turns == turns


@pytest.mark.parametrize(
    "wrong",
    [{"samples": []}, {"samples": flight(13)}, {"samples": flight(1), "guests": 0}],
)
def test_no_flight_no_guest_and_an_endless_flight_are_refused(wrong):
    with pytest.raises(FigureError):
        planned(wrong.pop("samples"), **wrong)


def test_a_sitting_needs_a_server():
    with pytest.raises(FigureError):
        Sitting(ROOM, FOUR, servers=0)


limits = st.lists(
    st.builds(
        lambda n, kind, per, amount: Limit(f"l{n}_{kind}_{per}", kind, per, amount),
        st.integers(0, 99),
        st.sampled_from([Kind.VOLUME]),
        st.sampled_from(["visit", "day", 20]),
        st.integers(7000, 60_000),
    )
    | st.builds(lambda n, per: Limit(f"p{n}_{per}", Kind.POURS, per, n), st.integers(1, 6), st.just("day"))
    | st.builds(lambda s: Limit(f"g{s}", Kind.GAP, most=s), st.integers(60, 400)),
    max_size=3,
    unique_by=lambda limit: limit.id,
)
samples = st.lists(
    st.builds(
        lambda name, ul, abv: Sample(Offer(name, ul, abv)),
        st.sampled_from(["a", "b"]),
        st.sampled_from([QUARTER, HALF, 20_000]),
        st.sampled_from([0, 3000, 4000]),
    ),
    min_size=1,
    max_size=6,
)


def granted_at_the_table(rules, glasses, gap):
    """Serve one glass after another as a room would: written apart from the plan."""
    had, now = [], FOUR
    for n, offer in enumerate(glasses):
        answer = decide(rules, Guest(ServiceState.MAY_BE_SERVED, 1), had, Server(), ROOM, now, offer)
        if not answer.granted:
            return False
        had.append(Served(f"{n:032x}", now, 1, 1, offer.product, offer.volume_ul, offer.abv_e2))
        now += gap
    return True


@given(limits, samples)
def test_what_a_plan_says_comes_true_at_the_table(given_limits, chosen):
    rules = policy(*given_limits)
    gap = timedelta(seconds=max((x.most for x in given_limits if x.kind is Kind.GAP), default=0))
    found = planned(chosen, rules=rules)
    offers = [one.offer for one in chosen]

    def at_measure(volume_ul):
        return [o if o.free else replace(o, volume_ul=volume_ul) for o in offers]

    assert granted_at_the_table(rules, offers, gap) is found.fits
    kept = [o for n, o in enumerate(offers, 1) if n not in found.leave_out]
    assert granted_at_the_table(rules, kept, gap)
    for one_more in combinations(offers, len(kept) + 1):
        assert not granted_at_the_table(rules, one_more, gap)
    for measure in MEASURES:
        fits = granted_at_the_table(rules, at_measure(measure), gap)
        assert fits is (found.measure_ul is not None and measure <= found.measure_ul)
    if found.largest_ul and any(not o.free for o in offers):
        assert granted_at_the_table(rules, at_measure(found.largest_ul), gap)
        bigger = found.largest_ul + 1
        assert bigger > 750_000 or not granted_at_the_table(rules, at_measure(bigger), gap)


EDGES: list[tuple[Call, str, Bounds]] = [
    (lambda: planned([]), "flight", Bounds(1, 12)),
    (lambda: planned(flight(13)), "flight", Bounds(1, 12)),
    (lambda: planned(flight(1), guests=0), "guests", Bounds(1)),
    (lambda: Sitting(ROOM, FOUR, servers=0), "servers", Bounds(1)),
]


@pytest.mark.parametrize(("call", "field", "allowed"), EDGES)
def test_a_value_past_an_edge_is_refused_and_the_edge_named(call: Call, field: str, allowed: Bounds) -> None:
    assert refusal(call) == (field, "out_of_range", allowed)


def test_twelve_samples_for_one_guest_can_be_planned():
    assert planned(flight(12)).fits


def test_without_a_measure_of_the_house_none_is_told_and_nothing_left_out_at_the_smallest():
    found = planned(flight(9), DAY, measures_ul=())
    assert (found.measure_ul, found.leave_out_at_smallest) == (None, ())
    assert planned(flight(6), DAY).leave_out_at_smallest == ()  # a measure fits: no need


def test_a_measure_is_above_nothing():
    assert planned(flight(6), DAY, measures_ul=(0, QUARTER)).measure_ul == QUARTER
    assert planned(flight(7, HALF), DAY, measures_ul=(-5, 0)).measure_ul is None


def test_a_sample_comes_from_a_bottle_of_75_centilitres_and_a_pour_takes_eight_seconds():
    assert (Sample(Offer("x", QUARTER, 4000)).bottle_ul, Sample(Offer("x", QUARTER, 4000)).fixed) == (
        750_000,
        False,
    )
    sitting = Sitting(ROOM, FOUR)
    assert (sitting.servers, sitting.talk_minutes, sitting.preset, sitting.ticket) == (1, 0.0, False, "")
    assert sitting.round(3) == timedelta(seconds=24)
