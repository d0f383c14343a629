"""Tasting laws written as policies and tried at their edges.

Citation and year stand beside each; the texts were read in their issuing body's words
or in secondary copies, "from memory" where said. Law changes: these prove that the
rules can say what statutes say, not what any of them says today.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from kiosk.figures.drinks import (
    Guest,
    Kind,
    Limit,
    Offer,
    Room,
    Served,
    Server,
    ServiceHours,
    ServicePolicy,
    ServiceState,
    decide,
    parse_volume,
    parse_volume_ul,
)

ZONE = ZoneInfo("Etc/GMT+4")
TUESDAY_NOON = datetime(2026, 6, 16, 12, tzinfo=ZONE)


def limit(kind, most="", per="day", **more):
    amount = parse_volume_ul(most, round_up=True) if isinstance(most, str) and most else most or 0
    return Limit(f"{kind}_{per}", Kind(kind), "pour" if kind in ("largest", "sizes") else per, amount, **more)


def largest(most):
    return limit("largest", most)


def volume(most, **more):
    return limit("volume", most, **more)


# name, limits, size of a lawful sample, how many fill the day, a size that is refused (or "")
STATUTES = [
    ("Washington RCW 66.24.145(3)", [largest("0.5 fl oz"), volume("2 fl oz")], "0.5 fl oz", 4, "0.75 fl oz"),
    (
        "Washington WAC 314-28-065, December 2024",
        [volume("2 fl oz", neat_only=True)],
        "0.5 fl oz",
        4,
        "2.5 fl oz",
    ),
    (
        "California B&P 23363.1(c), AB 933 of 2014",
        [largest("0.25 fl oz"), limit("pours", 6), volume("1.5 fl oz")],
        "0.25 fl oz",
        6,
        "0.5 fl oz",
    ),
    ("California, later text (1.5 from memory)", [volume("1.5 fl oz")], "0.5 fl oz", 3, "1.75 fl oz"),
    ("Kentucky KRS 243.0305, 2016", [volume("1.75 fl oz")], "0.25 fl oz", 7, "2 fl oz"),
    ("South Carolina 61-6-1140", [volume("4.5 fl oz", tour="with")], "0.5 fl oz", 9, "5 fl oz"),
    (
        "Maryland Art. 2B 2-202 (2014)",
        [largest("0.5 fl oz"), limit("pours", 3), volume("1.5 fl oz", tour="after")],
        "0.5 fl oz",
        3,
        "0.75 fl oz",
    ),
    (
        "New Jersey craft distillery licence, 2013",
        [largest("0.5 fl oz"), limit("pours", 3), volume("1.5 fl oz")],
        "0.5 fl oz",
        3,
        "0.75 fl oz",
    ),
    ("Nevada NRS 597.235(2)(d), 2019", [volume("4 fl oz")], "0.5 fl oz", 8, "4.5 fl oz"),
    ("Georgia HB 514 (2012)", [limit("pours", 1), volume("0.5 fl oz")], "0.5 fl oz", 1, "0.75 fl oz"),
    ("Georgia SB 63 (2015)", [volume("1.5 fl oz")], "0.5 fl oz", 3, "2 fl oz"),
    ("Pennsylvania 47 P.S. 5-505.4 (from memory)", [volume("1.5 fl oz")], "0.5 fl oz", 3, "2 fl oz"),
    ("Virginia 4.1-119 (from memory)", [largest("0.5 fl oz"), volume("3 fl oz")], "0.5 fl oz", 6, "1 fl oz"),
]


def asked(limits, offer, pours=(), *, now=TUESDAY_NOON, hours=(), toured=True):
    day = now.replace(hour=5, minute=0, second=0)
    room = Room("main", day, day + timedelta(days=1), ZONE)
    ended = now - timedelta(minutes=1) if toured else None
    guest = Guest(ServiceState.MAY_BE_SERVED, 1, tour_started_at=ended, tour_ended_at=ended)
    rules = ServicePolicy(21, "as cited", 2026, tuple(limits), tuple(hours))
    return decide(rules, guest, pours, Server(), room, now, offer)


def sample(size):
    return Offer("own-rum", parse_volume_ul(size, round_up=False), 4000)


def had(n, offer):
    return [
        Served(f"{i:032x}", TUESDAY_NOON - timedelta(minutes=i), 1, 1, "own-rum", offer.volume_ul, 4000)
        for i in range(n)
    ]


@pytest.mark.parametrize(("name", "limits", "size", "n", "too_much"), STATUTES, ids=[s[0] for s in STATUTES])
def test_the_last_lawful_sample_is_granted_and_the_next_refused(name, limits, size, n, too_much):
    offer = sample(size)
    assert asked(limits, offer, had(n - 1, offer)).granted
    assert not asked(limits, offer, had(n, offer)).granted
    assert not asked(limits, sample(too_much)).granted


@pytest.mark.parametrize(("name", "limits"), [(s[0], s[1]) for s in STATUTES if any(x.tour for x in s[1])])
def test_where_the_text_wants_a_tour_nothing_is_granted_without(name, limits):
    assert asked(limits, sample("0.5 fl oz"), toured=False).reasons == ("tour",)


@pytest.mark.parametrize(
    ("at", "granted"),
    [
        (TUESDAY_NOON.replace(hour=9), True),
        (TUESDAY_NOON.replace(hour=8, minute=59), False),
        (TUESDAY_NOON.replace(hour=18, minute=59), True),
        (TUESDAY_NOON.replace(hour=19), False),
        (TUESDAY_NOON + timedelta(days=5), False),  # Sunday
    ],
)
def test_south_carolina_pours_from_nine_to_seven_monday_to_saturday(at, granted):
    hours = [ServiceHours(frozenset(range(6)), time(9), time(19))]
    assert (
        asked([volume("4.5 fl oz", tour="with")], sample("0.5 fl oz"), now=at, hours=hours).granted is granted
    )


def test_oregons_day_runs_from_seven_to_half_past_two():
    # OAR 845-006-0452: "per day" is 7:00 am to 2:30 am of the next day
    hours = [ServiceHours(frozenset(range(7)), time(7), time(2, 30))]
    for at, granted in (
        (TUESDAY_NOON.replace(hour=2, minute=29), True),
        (TUESDAY_NOON.replace(hour=2, minute=30), False),
        (TUESDAY_NOON.replace(hour=6, minute=59), False),
        (TUESDAY_NOON.replace(hour=7), True),
    ):
        day = (at - timedelta(hours=5)).replace(hour=5, minute=0)
        room = Room("main", day, day + timedelta(days=1), ZONE)
        rules = ServicePolicy(21, "as cited", 2026, (volume("2 fl oz"),), tuple(hours))
        guest = Guest(ServiceState.MAY_BE_SERVED, 1)
        assert decide(rules, guest, (), Server(), room, at, sample("0.5 fl oz")).granted is granted


@pytest.mark.parametrize(
    ("size", "granted"),
    [("25 mL", True), ("35 mL", True), ("50 mL", True), ("30 mL", False), ("20 mL", False)],
)
def test_the_united_kingdom_pours_25_or_35_ml_or_multiples(size, granted):
    # SI 1988/2039 as amended
    sizes = tuple(Fraction(parse_volume(one)) for one in ("25 mL", "35 mL"))
    assert asked([limit("sizes", sizes_ul=sizes, multiples=True)], sample(size)).granted is granted
