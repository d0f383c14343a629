"""Allowance, fits and decide, case by case."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from kiosk.figures.drinks import (
    EACH_PRODUCT,
    STANDARD_DRINKS,
    Guest,
    Kind,
    Limit,
    Offer,
    Room,
    Server,
    ServiceHours,
    ServicePolicy,
    ServiceState,
    allowance,
    cost,
    decide,
    fits,
    parse_drinks,
    parse_volume_ul,
)
from tests.figures.service_day import ADULT, NOON, ROOM, ZONE, served

SERVER = Server(1)
US = STANDARD_DRINKS["US"]


def policy(*limits, **more):
    return ServicePolicy(21, "house", 2026, limits, **more)


def granted_in_a_row(rules, offer, *, gap=timedelta(minutes=1), tries=20):
    """Ask for the same pour again and again; return how many were granted before a refusal."""
    pours = []
    for n in range(tries):
        now = NOON + gap * n
        if not decide(rules, ADULT, pours, SERVER, ROOM, now, offer).granted:
            return n
        pours.append(served(n, now, offer))
    return tries


EQUAL_POURS = [
    (3, "0.5 fl oz", "1.5 fl oz"),
    (4, "0.5 fl oz", "2 fl oz"),
    (6, "0.25 fl oz", "1.5 fl oz"),
    (6, "0.5 fl oz", "3 fl oz"),
    (7, "0.25 fl oz", "1.75 fl oz"),
    (8, "0.5 fl oz", "4 fl oz"),
    (9, "0.5 fl oz", "4.5 fl oz"),
    (3, "15 mL", "45 mL"),
    (4, "15 mL", "60 mL"),
    (6, "7.5 mL", "45 mL"),
    (9, "15 mL", "135 mL"),
]


@pytest.mark.parametrize(("n", "pour", "most"), EQUAL_POURS)
def test_equal_pours_fill_a_volume_exactly_and_the_next_is_refused(n, pour, most):
    rules = policy(Limit("day", Kind.VOLUME, "day", parse_volume_ul(most, round_up=True)))
    assert granted_in_a_row(rules, Offer("blanco", parse_volume_ul(pour, round_up=False), 4000)) == n


@pytest.mark.parametrize(
    ("n", "pour", "abv_e2", "country", "most"),
    [
        (6, "0.25 fl oz", 4000, "US", "1 drink"),
        (3, "0.5 fl oz", 4000, "US", "1 drink"),
        (1, "1.5 fl oz", 4000, "US", "1 drink"),
        (2, "25 mL", 4000, "GB", "2 drinks"),
        (4, "12.5 mL", 4000, "ES", "1.6 drinks"),
    ],
)
def test_equal_pours_fill_standard_drinks_exactly(n, pour, abv_e2, country, most):
    most_units = parse_drinks(most, STANDARD_DRINKS[country])
    rules = policy(Limit("day", Kind.DRINKS, "day", most_units))
    assert granted_in_a_row(rules, Offer("blanco", parse_volume_ul(pour, round_up=False), abv_e2)) == n


QUARTER = Offer("blanco", 7393, 4000)


def reasons(rules=None, guest=ADULT, pours=(), server=SERVER, room=ROOM, now=NOON, offer=QUARTER):
    return decide(rules or policy(), guest, pours, server, room, now, offer).reasons


@pytest.mark.parametrize("state", [s for s in ServiceState if s is not ServiceState.MAY_BE_SERVED])
def test_only_a_checked_guest_is_served_and_the_reason_is_their_state(state):
    assert reasons(guest=Guest(state)) == (state.value,)


@pytest.mark.parametrize("state", list(ServiceState))
def test_alcohol_free_is_refused_to_nobody(state):
    closed = policy(Limit("p", Kind.POURS, "day", 1), hours=(ServiceHours(frozenset(), time(9), time(18)),))
    guest = Guest(state, gone=True)
    pours = [served(1, NOON, QUARTER)]
    assert reasons(closed, guest, pours, offer=Offer("ponche-sin", 100_000, 0)) == ()


def test_an_alcohol_free_glass_counts_for_nothing():
    rules = policy(Limit("p", Kind.POURS, "day", 1), Limit("g", Kind.GAP, most=600))
    assert reasons(rules, pours=[served(1, NOON, Offer("ponche-sin", 100_000, 0))]) == ()


def test_a_server_without_permit_a_wrong_room_and_a_guest_who_left_are_named():
    assert reasons(server=Server(1, ("permit",))) == ("permit",)
    assert reasons(policy(rooms=("terrace",))) == ("room",)
    assert reasons(guest=replace(ADULT, gone=True)) == ("gone",)


def test_unapproved_stock_is_refused():
    assert reasons(offer=replace(QUARTER, approved=False)) == ("not_approved",)


def test_a_pour_larger_than_the_largest_is_refused_by_the_limits_id():
    rules = policy(Limit("half_ounce", Kind.LARGEST, "pour", parse_volume_ul("0.5 fl oz", round_up=True)))
    assert reasons(rules, offer=replace(QUARTER, volume_ul=14_786)) == ()
    assert reasons(rules, offer=replace(QUARTER, volume_ul=14_788)) == ("half_ounce",)


def test_a_limit_of_one_product_leaves_the_others():
    rules = policy(Limit("one_each", Kind.POURS, "day", 1, product="blanco"))
    pours = [served(1, NOON, QUARTER)]
    assert reasons(rules, pours=pours) == ("one_each",)
    assert reasons(rules, pours=pours, offer=replace(QUARTER, product="reserva")) == ()


def test_a_limit_of_each_product_counts_each_by_itself():
    # Maryland Art. 2B s 2-202 (2014): one sample of each product
    rules = policy(Limit("each", Kind.POURS, "day", 1, product=EACH_PRODUCT))
    pours = [served(1, NOON, QUARTER)]
    assert reasons(rules, pours=pours) == ("each",)
    assert reasons(rules, pours=pours, offer=replace(QUARTER, product="reserva")) == ()


def test_a_rolling_limit_of_each_product_refills_for_that_product():
    rules = policy(Limit("each", Kind.POURS, 60, 1, product=EACH_PRODUCT))
    given = allowance(rules, ADULT, [served(1, NOON, QUARTER)], SERVER, ROOM, NOON)
    assert given.left["each"].remainder == 1
    assert given.left["each@blanco"].remainder == 0
    assert fits(given, cost(rules, QUARTER), NOON + timedelta(minutes=59)) == ("each",)
    assert fits(given, cost(rules, QUARTER), NOON + timedelta(minutes=60)) == ()
    assert fits(given, cost(rules, replace(QUARTER, product="reserva"))) == ()


@pytest.mark.parametrize(("ticket", "bound"), [("short", True), ("long", False), ("", True)])
def test_a_limit_of_a_ticket_binds_its_guests_and_those_whose_ticket_is_not_known(ticket, bound):
    rules = policy(Limit("short", Kind.POURS, "visit", 1, tickets=("short",)))
    guest = replace(ADULT, ticket=ticket)
    assert reasons(rules, guest, [served(1, NOON, QUARTER)]) == (("short",) if bound else ())


def test_no_more_glasses_stand_before_a_guest_than_the_rules_say():
    rules = policy(Limit("two", Kind.GLASSES, "day", 2))
    first, second = served(1, NOON, QUARTER), served(2, NOON, QUARTER)
    assert reasons(rules, pours=[first]) == ()
    assert reasons(rules, pours=[first, second]) == ("two",)
    emptied = replace(first, done_at=NOON + timedelta(minutes=5))
    assert reasons(rules, pours=[emptied, second], now=NOON + timedelta(minutes=4)) == ("two",)
    assert reasons(rules, pours=[emptied, second], now=NOON + timedelta(minutes=5)) == ()


def test_where_glasses_are_counted_in_minutes_one_stands_no_longer():
    rules = policy(Limit("one", Kind.GLASSES, 15, 1))
    pours = [served(1, NOON, QUARTER)]
    assert reasons(rules, pours=pours, now=NOON + timedelta(minutes=15, seconds=-1)) == ("one",)
    assert reasons(rules, pours=pours, now=NOON + timedelta(minutes=15)) == ()


def test_a_guest_is_served_on_so_many_visits_of_a_day():
    # South Carolina Code 61-6-1140: one tasting a day
    rules = policy(Limit("one", Kind.VISITS, "day", 1))
    pours = [served(1, NOON, QUARTER, visit=1)]
    assert reasons(rules, pours=pours) == ()
    assert reasons(rules, replace(ADULT, visit=2), pours) == ("one",)
    tomorrow = replace(ROOM, day_from=ROOM.day_until, day_until=ROOM.day_until + timedelta(days=1))
    later = NOON + timedelta(days=1)
    assert reasons(rules, replace(ADULT, visit=2), pours, room=tomorrow, now=later) == ()
    free = [served(1, NOON, Offer("ponche-sin", 60_000, 0), visit=1)]
    assert reasons(rules, replace(ADULT, visit=2), free) == ()


@pytest.mark.parametrize(
    ("offer", "refused"),
    [
        (QUARTER, ()),
        (replace(QUARTER, neat=False), ("neat_only",)),
        (replace(QUARTER, liquids=2), ("neat_only",)),  # two spirits in a glass are a mixture too
    ],
)
def test_a_house_without_mixers_pours_neat(offer, refused):
    assert reasons(policy(mixers=False), offer=offer) == refused
    assert reasons(policy(), offer=offer) == ()


def test_own_products_only():
    foreign = replace(QUARTER, own=False)
    assert reasons(policy(own_only=True), offer=foreign) == ("not_own",)
    assert reasons(policy(own_only=True)) == ()
    assert reasons(policy(), offer=foreign) == ()


@pytest.mark.parametrize(
    ("server", "refused"),
    [
        (Server(1), ("server_age", "server_permit")),
        (Server(1, age=20, permits=("class-12",)), ("server_age",)),
        (Server(1, age=21, permits=("class-13",)), ("server_permit",)),
        (Server(1, age=21, permits=("class-13", "class-12")), ()),
        (Server(), ()),  # nobody yet: asked when somebody pours
        (Server(0), ("server_age", "server_permit")),
    ],
)
def test_whoever_pours_has_the_age_and_the_permit(server, refused):
    # California B&P 23363.1(c): 21 or older; Washington RCW 66.24.145(3): a Class 12 permit
    rules = policy(server_age=21, server_permit="class-12")
    assert reasons(rules, server=server) == refused
    assert reasons(rules, server=server, offer=Offer("ponche-sin", 60_000, 0)) == ()


def test_a_mix_of_so_many_liquids_is_free_of_a_size():
    # SI 1988/2039 as amended: not for a mixture of three or more liquids
    rules = policy(
        Limit("uk", Kind.SIZES, "pour", sizes_ul=(Fraction(25_000),), multiples=True, liquids_below=3)
    )
    mixed = replace(QUARTER, volume_ul=20_000, neat=False)
    assert reasons(rules, offer=replace(mixed, liquids=2)) == ("uk",)
    assert reasons(rules, offer=replace(mixed, liquids=3)) == ()


@pytest.mark.parametrize(
    ("at", "open_"), [((17, 44, 59), True), ((17, 45, 0), False), ((17, 50, 0), False), ((18, 0, 0), False)]
)
def test_the_last_pour_is_before_its_time(at, open_):
    rules = policy(hours=(ServiceHours(frozenset(range(7)), time(9), time(18), time(17, 45)),))
    now = NOON.replace(hour=at[0], minute=at[1], second=at[2])
    assert reasons(rules, now=now) == (() if open_ else ("hours",))


def test_without_a_pause_in_the_rules_nobody_waits_for_a_clock():
    assert reasons(policy(), pours=[served(1, NOON + timedelta(seconds=2), QUARTER)]) == ()


def test_a_limit_on_neat_pours_leaves_mixed_ones():
    # WAC 314-28-065, text of December 2024, caps only unadulterated spirits at 2 fl oz
    rules = policy(
        Limit("neat", Kind.VOLUME, "day", parse_volume_ul("2 fl oz", round_up=True), neat_only=True)
    )
    pours = [served(n, NOON, Offer("blanco", 14_786, 4000)) for n in range(4)]
    assert reasons(rules, pours=pours) == ("neat",)
    assert reasons(rules, pours=pours, offer=replace(QUARTER, neat=False)) == ()
    assert reasons(rules, pours=[served(9, NOON, replace(QUARTER, neat=False))] * 9) == ()


def test_a_new_visit_starts_a_visits_limit_but_not_a_days():
    pours = [served(1, NOON, QUARTER, visit=1)]
    second = replace(ADULT, visit=2)
    assert reasons(policy(Limit("v", Kind.POURS, "visit", 1)), second, pours) == ()
    assert reasons(policy(Limit("d", Kind.POURS, "day", 1)), second, pours) == ("d",)


def test_the_day_is_the_service_day():
    # OAR 845-006-0452: "per day" runs from 7:00 am to 2:30 am
    rules = policy(Limit("d", Kind.POURS, "day", 1))
    before = [served(1, ROOM.day_from - timedelta(seconds=1), QUARTER)]
    first = [served(1, ROOM.day_from, QUARTER)]
    assert reasons(rules, pours=before) == ()
    assert reasons(rules, pours=first) == ("d",)


def test_a_rolling_window_refills_when_it_has_passed():
    rules = policy(Limit("hour", Kind.POURS, 60, 1))
    pours = [served(1, NOON, QUARTER)]
    assert reasons(rules, pours=pours, now=NOON + timedelta(minutes=60, seconds=-1)) == ("hour",)
    assert reasons(rules, pours=pours, now=NOON + timedelta(minutes=60)) == ()


def test_a_rolling_hour_is_an_hour_also_when_the_clocks_go_forward():
    """At 2:00 on 8 March 2026 the clocks of this zone showed 3:00 (IANA time zone database)."""
    zone = ZoneInfo("America/New_York")
    before = datetime(2026, 3, 8, 1, 50, tzinfo=zone)
    later = (before.astimezone(UTC) + timedelta(minutes=20)).astimezone(zone)
    assert (later.hour, later.minute) == (3, 10)
    room = Room("main", datetime(2026, 3, 7, 5, tzinfo=zone), datetime(2026, 3, 8, 5, tzinfo=zone), zone)
    rules = policy(Limit("hour", Kind.POURS, 60, 1))
    pours = [served(1, before.astimezone(UTC), QUARTER)]
    assert decide(rules, ADULT, pours, SERVER, room, later, QUARTER).reasons == ("hour",)


def test_an_allowance_refills_by_itself_as_time_passes():
    rules = policy(Limit("hour", Kind.POURS, 60, 1))
    given = allowance(rules, ADULT, [served(1, NOON, QUARTER)], SERVER, ROOM, NOON + timedelta(minutes=1))
    asked = cost(rules, QUARTER)
    assert fits(given, asked, NOON + timedelta(minutes=59)) == ("hour",)
    assert fits(given, asked, NOON + timedelta(minutes=60)) == ()


def test_minutes_between_pours():
    rules = policy(Limit("slow", Kind.GAP, most=300))
    pours = [served(1, NOON, QUARTER)]
    assert reasons(rules, pours=pours, now=NOON + timedelta(seconds=299)) == ("wait",)
    assert reasons(rules, pours=pours, now=NOON + timedelta(seconds=300)) == ()


# South Carolina Code 61-6-1140: 9 am to 7 pm, Monday to Saturday
SC_HOURS = (ServiceHours(frozenset(range(6)), time(9), time(19)),)


@pytest.mark.parametrize(
    ("at", "open_"),
    [
        (datetime(2026, 6, 16, 9, tzinfo=ZONE), True),
        (datetime(2026, 6, 16, 8, 59, 59, tzinfo=ZONE), False),
        (datetime(2026, 6, 16, 18, 59, 59, tzinfo=ZONE), True),
        (datetime(2026, 6, 16, 19, tzinfo=ZONE), False),
        (datetime(2026, 6, 21, 12, tzinfo=ZONE), False),  # a Sunday
        (datetime(2026, 6, 16, 13, tzinfo=UTC), True),  # 9 o'clock on the site's own clock
        (datetime(2026, 6, 16, 12, 59, tzinfo=UTC), False),
    ],
)
def test_service_hours_by_weekday(at, open_):
    start = at.astimezone(ZONE).replace(hour=5, minute=0, second=0)
    room = replace(ROOM, day_from=start, day_until=start + timedelta(days=1))
    assert reasons(policy(hours=SC_HOURS), room=room, now=at) == (() if open_ else ("hours",))


def test_only_after_a_tour():
    # Maryland Art. 2B s 2-202 (2014): the guided tour first
    rules = policy(Limit("md", Kind.VOLUME, "day", 44_361, tour="after"))
    assert reasons(rules) == ("tour",)
    assert reasons(rules, replace(ADULT, tour_ended_at=NOON + timedelta(minutes=1))) == ("tour",)
    assert reasons(rules, replace(ADULT, tour_ended_at=NOON)) == ()


def test_only_with_a_tour():
    # South Carolina Code 61-6-1140: only with a tour
    rules = policy(Limit("sc", Kind.VOLUME, "day", 133_081, tour="with"))
    assert reasons(rules) == ("tour",)
    walking = replace(ADULT, tour_started_at=NOON)
    assert reasons(rules, walking) == ()
    assert reasons(rules, replace(walking, tour_ended_at=NOON + timedelta(minutes=1))) == ()
    assert reasons(rules, replace(walking, tour_ended_at=NOON)) == ("tour",)


def test_between_the_glasses_of_one_seat_no_time_has_to_pass():
    rules = policy(Limit("g", Kind.GAP, most=300))
    preset_seat = [replace(served(n, NOON, QUARTER), preset=True) for n in (1, 2)]
    assert reasons(rules, pours=preset_seat) == ()
    assert reasons(rules, pours=[served(1, NOON, QUARTER)]) == ("wait",)
    assert reasons(rules, pours=preset_seat, now=NOON + timedelta(seconds=299)) == ("wait",)
    assert reasons(rules, pours=preset_seat, now=NOON + timedelta(seconds=300)) == ()


def test_a_pour_dated_later_than_now_counts_too():
    rules = policy(
        Limit("d", Kind.POURS, "day", 1), Limit("h", Kind.POURS, 30, 1), Limit("g", Kind.GAP, most=60)
    )
    pours = [served(1, NOON + timedelta(minutes=5), QUARTER)]
    assert reasons(rules, pours=pours) == ("wait", "d", "h")


def test_what_is_over_a_limit_leaves_less_than_nothing():
    rules = policy(Limit("d", Kind.POURS, "day", 1))
    given = allowance(rules, ADULT, [served(n, NOON, QUARTER) for n in range(3)], SERVER, ROOM, NOON)
    assert given.left["d"].remainder == -2
