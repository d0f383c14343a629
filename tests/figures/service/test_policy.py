"""Limits, sizes, hours and dates of birth; a restriction tightens the rules of a day, never loosens them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.figures.drinks import (
    GAP,
    LAST_POUR,
    NO_ALCOHOL,
    DayRestriction,
    Kind,
    Limit,
    Offer,
    Server,
    ServiceHours,
    ServicePolicy,
    decide,
    is_stricter,
    tighten,
)
from kiosk.figures.errors import FigureError
from kiosk.figures.service.policy import born_on_or_before, last_pour_s
from tests.figures.service_day import ADULT, BEGUN, NOON, ROOM, served


@pytest.mark.parametrize(
    ("day", "age", "born"),
    [
        (date(2029, 11, 24), 21, date(2008, 11, 24)),
        (date(2029, 2, 28), 21, date(2008, 2, 28)),  # born 29 February 2008: not yet
        (date(2029, 3, 1), 21, date(2008, 3, 1)),  # born 29 February 2008: from today
        (date(2028, 2, 29), 20, date(2008, 2, 29)),
        (date(2028, 2, 29), 21, date(2007, 2, 28)),  # no 29 February 2007
        (date(2028, 2, 29), 18, date(2010, 2, 28)),
        (date(2026, 2, 28), 18, date(2008, 2, 28)),  # 18 in Puerto Rico: born 29 February 2008: not yet
        (date(2026, 3, 1), 18, date(2008, 3, 1)),
        (date(2000, 2, 29), 100, date(1900, 2, 28)),  # 1900 was a common year
        (date(2104, 2, 29), 8, date(2096, 2, 29)),
    ],
)
def test_born_on_or_before(day, age, born):
    # Maryland Gen. Prov. 1-303: born on 29 February counts from 1 March in common years
    assert born_on_or_before(day, age) == born


@pytest.mark.parametrize(
    "contradiction",
    [
        {"kind": Kind.LARGEST, "per": "day", "most": 1},
        {"kind": Kind.VOLUME, "per": "pour", "most": 1},
        {"kind": Kind.SIZES, "per": "pour"},
        {"kind": Kind.POURS, "per": "day", "most": 0},
        {"kind": Kind.POURS, "per": 0, "most": 1},
        {"kind": Kind.GAP, "most": 60, "product": "blanco"},
        {"kind": Kind.GAP, "most": 60, "tickets": ("short",)},
        {"kind": Kind.VISITS, "per": "visit", "most": 1},
        {"kind": Kind.VISITS, "per": 60, "most": 1},
        {"kind": Kind.VISITS, "most": 1, "product": "each one"},
        {"kind": Kind.VISITS, "most": 1, "neat_only": True},
        {"kind": Kind.VISITS, "most": 1, "tickets": ("short",)},
        {"kind": Kind.LARGEST, "per": "pour", "most": 1, "tickets": ("short",)},
        {"kind": Kind.GLASSES, "per": "pour", "most": 1},
        {"kind": Kind.POURS, "most": 1, "liquids_below": 3},
    ],
)
def test_a_limit_that_contradicts_itself_is_refused(contradiction):
    with pytest.raises(FigureError):
        Limit("x", **contradiction)


@pytest.mark.parametrize(
    ("volume_ul", "multiples", "allowed"),
    [
        (25_000, False, True),
        (35_000, False, True),
        (30_000, False, False),
        (50_000, False, False),
        (50_000, True, True),
        (70_000, True, True),
        (60_000, True, False),
        (10_000, True, False),
        (0, True, False),
    ],
)
def test_sizes_must_be_met_and_not_only_not_exceeded(volume_ul, multiples, allowed):
    # SI 1988/2039 as amended: 25 or 35 mL, or multiples
    sizes = (Fraction(25_000), Fraction(35_000))
    assert (
        Limit("uk", Kind.SIZES, "pour", sizes_ul=sizes, multiples=multiples).allows_size(volume_ul) is allowed
    )


@pytest.mark.parametrize(
    ("liquids_below", "liquids", "allowed"),
    [(0, 1, False), (0, 3, False), (3, 2, False), (3, 3, True), (3, 4, True), (2, 1, False)],
)
def test_a_size_may_be_asked_only_of_a_glass_of_few_liquids(liquids_below, liquids, allowed):
    sizes = Limit("uk", Kind.SIZES, "pour", sizes_ul=(Fraction(25_000),), liquids_below=liquids_below)
    assert sizes.allows(Offer("x", 30_000, 4000, liquids=liquids)) is allowed
    assert sizes.allows(Offer("x", 25_000, 4000, liquids=liquids))


def test_a_pour_is_neat_approved_ones_own_and_of_one_liquid_unless_it_is_said():
    plain = Offer("x", 30_000, 4000)
    assert (plain.neat, plain.approved, plain.own, plain.liquids) == (True, True, True, 1)


@pytest.mark.parametrize(
    ("last_pour", "closes"),
    [(None, (21, 1, 0)), (time(23), (20, 23, 0)), (time(0, 45), (21, 0, 45)), (time(1, 30), (21, 1, 0))],
)
def test_a_last_pour_ends_the_hours_where_it_is_the_earlier(last_pour, closes):
    hours = ServiceHours(frozenset({5}), time(18), time(1), last_pour)
    _, end = hours.window(date(2026, 6, 20), ZoneInfo("Etc/GMT+4"))
    assert (end.day, end.hour, end.minute) == closes


def test_hours_past_midnight_belong_to_the_day_they_open():
    zone = ZoneInfo("Etc/GMT+4")
    hours = ServiceHours(frozenset({5}), time(18), time(1))
    opens, closes = hours.window(date(2026, 6, 20), zone)
    assert (closes - opens, closes.day) == (timedelta(hours=7), 21)
    assert hours.window(date(2026, 6, 21), zone) is None


@given(st.dates(date(1960, 1, 1), date(2090, 12, 31)), st.integers(18, 30))
def test_whoever_is_of_age_stays_so_and_nobody_is_a_day_too_early(day, age):
    """An independent path: the birthday of somebody born on 29 February is 1 March in common years."""

    def birthday(born, year):
        leap_day = (born.month, born.day) == (2, 29)
        common = year % 4 != 0 or (year % 100 == 0 and year % 400 != 0)
        return date(year, 3, 1) if leap_day and common else born.replace(year=year)

    last = born_on_or_before(day, age)
    after = last + timedelta(days=1)
    assert birthday(last, last.year + age) <= day
    assert birthday(after, after.year + age) > day
    assert born_on_or_before(day + timedelta(days=1), age) >= last


HOUR_S = 3600
LIMITS = (
    Limit("largest", Kind.LARGEST, "pour", 20_000),
    Limit("pours", Kind.POURS, "day", 6),
    Limit("volume", Kind.VOLUME, "day", 60_000),
    Limit("hourly", Kind.VOLUME, 60, 30_000),
    Limit("drinks", Kind.DRINKS, "visit", 300_000_000),
    Limit("pause", Kind.GAP, most=120),
    Limit("glasses", Kind.GLASSES, "day", 3),
    Limit("visits", Kind.VISITS, "day", 2),
)
HOURS = (ServiceHours(frozenset(range(7)), time(9), time(18)),)
RULES = ServicePolicy(21, "house", 2026, LIMITS, HOURS)
RUM = Offer("rum", 10_000, 4000)


def word(rule, most=0):
    return DayRestriction(rule, most, NOON)


def reasons(rules, pours=(), *, offer=RUM, now=NOON, guest=ADULT):
    return decide(rules, guest, pours, Server(1), ROOM, now, offer).reasons


def near(limit):
    """Words about one limit, below its most and beyond it."""
    factors = st.sampled_from([0, 1, 2, 5, 9, 10, 11, 20])
    return factors.map(lambda tenths: word(limit.id, limit.most * tenths // 10))


words_ = st.one_of(
    st.sampled_from(LIMITS).flatmap(near),
    st.builds(word, st.just(LAST_POUR), st.integers(-1, 26).map(lambda hours: hours * HOUR_S)),
    st.builds(word, st.just(GAP), st.sampled_from([0, 60, 120, 121, 600, 7200])),
    st.just(word(NO_ALCOHOL)),
    st.just(word("of another year", 1)),
)
offers = st.builds(Offer, st.sampled_from(["rum", "aged"]), st.integers(0, 40_000), st.integers(0, 6500))
random_histories = st.lists(
    st.builds(
        served,
        st.integers(0, 10**9),
        st.integers(-120, 700).map(lambda minutes: NOON + timedelta(minutes=minutes)),
        offers,
        st.integers(1, 3),
    ),
    max_size=8,
)
even_histories = st.builds(
    lambda n, minutes: [served(k, NOON - timedelta(minutes=k * minutes), RUM) for k in range(n)],
    st.integers(0, 10),
    st.sampled_from([1, 3, 15]),
)
histories = st.one_of(random_histories, even_histories)
policies = st.builds(
    lambda kept, hours: replace(RULES, limits=tuple(kept), hours=hours),
    st.lists(st.sampled_from(LIMITS), max_size=3, unique=True),
    st.sampled_from([(), HOURS]),
)
alone = st.sampled_from(LIMITS).flatmap(
    lambda limit: st.tuples(st.just(replace(RULES, limits=(limit,), hours=())), near(limit))
)
instants = st.integers(-420, 1019).map(lambda minutes: NOON + timedelta(minutes=minutes))


@settings(max_examples=500)
@given(policies, st.lists(words_, max_size=3), words_, histories, offers | st.just(RUM), instants)
def test_whatever_is_refused_without_a_word_is_refused_with_it(rules, words, one, pours, offer, now):
    held = tighten(rules, words)
    if reasons(held, pours, offer=offer, now=now):
        assert reasons(tighten(held, [one]), pours, offer=offer, now=now)
        assert reasons(tighten(rules, [one, *words]), pours, offer=offer, now=now)


@settings(max_examples=300)
@given(alone, even_histories, st.sampled_from([RUM, replace(RUM, volume_ul=25_000)]))
def test_whatever_one_limit_refuses_it_refuses_with_any_word_on_it(case, pours, offer):
    rules, one = case
    if reasons(rules, pours, offer=offer):
        assert reasons(tighten(rules, [one]), pours, offer=offer)


@settings(max_examples=500)
@given(policies, st.lists(words_, max_size=2), words_, histories, offers | st.just(RUM), instants)
def test_a_word_that_is_not_stricter_changes_no_decision(rules, words, one, pours, offer, now):
    held = tighten(rules, words)
    if not is_stricter(held, one, ROOM):
        after = tighten(held, [one])
        assert reasons(after, pours, offer=offer, now=now) == reasons(held, pours, offer=offer, now=now)


@given(policies, st.lists(words_, max_size=4), st.randoms())
def test_the_order_of_words_does_not_matter(rules, words, random):
    other = list(words)
    random.shuffle(other)
    one, two = tighten(rules, words), tighten(rules, other)
    assert {*one.limits} == {*two.limits}
    assert (one.dry, one.last_pour_s) == (two.dry, two.last_pour_s)


def test_without_words_it_is_the_same_policy():
    assert tighten(RULES, []) is RULES


@pytest.mark.parametrize(
    ("one", "stricter"),
    [
        (word("pours", 5), True),
        (word("pours", 6), False),
        (word("pours", 0), False),
        (word("largest", 19_999), True),
        (word("largest", 20_001), False),
        (word("pause", 60), False),
        (word("nothing", 1), False),
        (word(GAP, 121), True),
        (word(GAP, 120), False),
        (word(NO_ALCOHOL), True),
        (word(LAST_POUR, 12 * HOUR_S), True),
        (word(LAST_POUR, 13 * HOUR_S), False),  # 18:00, when it closes anyway
        (word(LAST_POUR, 0), False),
    ],
)
def test_what_is_stricter_than_the_rules(one, stricter):
    assert is_stricter(RULES, one, ROOM) is stricter


@pytest.mark.parametrize(
    ("one", "later", "stricter"),
    [
        (word("pours", 4), word("pours", 5), False),
        (word("pours", 4), word("pours", 3), True),
        (word(GAP, 600), word(GAP, 300), False),
        (word(LAST_POUR, 9 * HOUR_S), word(LAST_POUR, 10 * HOUR_S), False),
        (word(NO_ALCOHOL), word(NO_ALCOHOL), False),
    ],
)
def test_a_later_word_is_stricter_than_the_earlier_one_or_none(one, later, stricter):
    assert is_stricter(tighten(RULES, [one]), later, ROOM) is stricter


def test_a_lower_most_refuses_by_the_limits_own_name():
    fewer = tighten(RULES, [word("pours", 1)])
    assert reasons(fewer, [served(1, NOON - timedelta(hours=2), RUM)]) == ("pours",)
    assert reasons(fewer) == ()


def test_a_longer_gap_lets_wait_also_where_the_rules_have_none():
    plain = replace(RULES, limits=())
    waiting = tighten(plain, [word(GAP, 600)])
    had = [served(1, NOON - timedelta(minutes=9), RUM)]
    assert (reasons(plain, had), reasons(waiting, had)) == ((), ("wait",))
    assert reasons(waiting, had, now=NOON + timedelta(minutes=1)) == ()


def test_an_earlier_last_pour_is_before_its_time():
    early = tighten(RULES, [word(LAST_POUR, 8 * HOUR_S)])  # 13:00
    one = timedelta(seconds=1)
    assert reasons(early, now=NOON + timedelta(hours=1) - one) == ()
    assert reasons(early, now=NOON + timedelta(hours=1)) == ("hours",)


@pytest.mark.parametrize("hours", [(8, 9), (9, 8)])
def test_of_two_last_pours_the_earlier_holds(hours):
    both = tighten(RULES, [word(LAST_POUR, hour * HOUR_S) for hour in hours])
    assert reasons(both, now=BEGUN + timedelta(hours=8)) == ("hours",)


def test_no_alcohol_today_leaves_the_glass_without():
    dry = tighten(RULES, [word(NO_ALCOHOL)])
    assert reasons(dry) == ("dry",)
    assert reasons(dry, offer=Offer("cordial", 30_000, 0)) == ()


def test_the_last_pour_of_a_day_is_by_its_hours_and_within_the_day():
    assert last_pour_s(RULES, ROOM) == 13 * HOUR_S
    assert last_pour_s(replace(RULES, hours=()), ROOM) == 24 * HOUR_S
    late = (ServiceHours(frozenset(range(7)), time(18), time(6)),)  # until the next day's first hour
    assert last_pour_s(replace(RULES, hours=late), ROOM) == 24 * HOUR_S
    yesterdays = (ServiceHours(frozenset({0}), time(18), time(6)),)  # this is a Tuesday
    assert last_pour_s(replace(RULES, hours=yesterdays), ROOM) == 1 * HOUR_S
    tomorrows = (ServiceHours(frozenset({2}), time(0), time(4)),)
    assert last_pour_s(replace(RULES, hours=tomorrows), ROOM) == 23 * HOUR_S
    closed = (ServiceHours(frozenset({5, 6}), time(9), time(18)),)
    assert last_pour_s(replace(RULES, hours=closed), ROOM) == 0
