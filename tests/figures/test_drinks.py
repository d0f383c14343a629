"""Rules that hold whatever the pours, their order and their times."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

import kiosk.figures.drinks as drinks
from kiosk.figures.drinks import (
    Guest,
    Kind,
    Limit,
    Offer,
    Room,
    Served,
    Server,
    ServicePolicy,
    ServiceState,
    decide,
)

START = datetime(2026, 6, 16, 9, tzinfo=ZoneInfo("Etc/GMT+4"))
ROOM = Room("main", START, START + timedelta(days=1), START.tzinfo)
GUEST = Guest(ServiceState.MAY_BE_SERVED, visit=1)
PRODUCTS = ("blanco", "reserva")

summed = st.builds(
    lambda kind, per, most, product, neat_only: (kind, per, most, product, neat_only),
    st.sampled_from([Kind.POURS, Kind.VOLUME, Kind.DRINKS]),
    st.sampled_from(["visit", "day", 20, 90]),
    st.integers(1, 6),
    st.sampled_from(["*", *PRODUCTS]),
    st.booleans(),
)
SCALE = {Kind.POURS: 1, Kind.VOLUME: 7000, Kind.DRINKS: 7000 * 4000}


def make_policy(parts, gap_s):
    limits = [
        Limit(f"limit{n}", kind, per, most * SCALE[kind], product=product, neat_only=neat)
        for n, (kind, per, most, product, neat) in enumerate(parts)
    ]
    if gap_s:
        limits.append(Limit("gap", Kind.GAP, most=gap_s))
    return ServicePolicy(21, "house", 2026, tuple(limits))


policies = st.builds(make_policy, st.lists(summed, max_size=4), st.sampled_from([0, 0, 240]))
asks = st.tuples(
    st.integers(0, 300),  # minutes from the start
    st.sampled_from(PRODUCTS),
    st.sampled_from([5000, 7000, 7393, 14_786]),
    st.sampled_from([0, 3000, 4000, 4500]),
    st.booleans(),
    st.integers(1, 2),  # visit
)


def run(policy, tries):
    """Ask in the order given, whatever the times; return what was granted and every answer."""
    pours, answers = [], []
    for n, (minute, product, volume_ul, abv_e2, neat, visit) in enumerate(tries):
        now = START + timedelta(minutes=minute)
        guest = Guest(ServiceState.MAY_BE_SERVED, visit)
        answer = decide(policy, guest, pours, Server(), ROOM, now, Offer(product, volume_ul, abv_e2, neat))
        answers.append(answer)
        if answer.granted:
            pours.append(Served(f"{n:032x}", now, 1, visit, product, volume_ul, abv_e2, neat))
    return pours, answers


def amounts(limit, pours):
    """List (time, visit, amount) of what a limit sees: written apart from the code under test."""
    seen = []
    for p in pours:
        if p.abv_e2 == 0 or p.volume_ul == 0:
            continue
        if limit.product not in ("*", p.product) or (limit.neat_only and not p.neat):
            continue
        unit = {"pours": 1, "volume": p.volume_ul, "drinks": p.volume_ul * p.abv_e2}[limit.kind.value]
        seen.append((p.at, p.visit, unit))
    return seen


def groups(limit, pours):
    """Split what a limit sees into the spans within which it must hold."""
    seen = amounts(limit, pours)
    if limit.per == "day":
        return [[a for _, _, a in seen]]
    if limit.per == "visit":
        return [[a for _, v, a in seen if v == visit] for visit in (1, 2)]
    span = timedelta(minutes=limit.per)
    return [[a for at, _, a in seen if first <= at < first + span] for first, _, _ in seen]


@given(policies, st.lists(asks, max_size=14))
def test_no_order_of_asks_is_granted_beyond_any_limit(policy, tries):
    pours, _ = run(policy, tries)
    for limit in policy.limits:
        if limit.kind is Kind.GAP:
            strong = sorted(p.at for p in pours if p.abv_e2)
            assert all((b - a).total_seconds() >= limit.most for a, b in pairwise(strong))
        else:
            assert all(sum(group) <= limit.most for group in groups(limit, pours))


@given(policies, st.lists(asks, max_size=14))
def test_asked_in_order_of_time_decide_equals_an_independent_fold(policy, tries):
    tries = sorted(tries, key=lambda ask: ask[0])
    pours, answers = run(policy, tries)
    had = []
    for n, ((minute, product, volume_ul, abv_e2, neat, visit), answer) in enumerate(
        zip(tries, answers, strict=True)
    ):
        now = START + timedelta(minutes=minute)
        new = Served(f"{n:032x}", now, 1, visit, product, volume_ul, abv_e2, neat)
        allowed = abv_e2 == 0 or all(_holds(limit, [*had, new], new) for limit in policy.limits)
        assert answer.granted is allowed
        if allowed:
            had.append(new)
    assert had == pours


def _holds(limit, pours, new):
    if limit.kind is Kind.GAP:
        before = [p.at for p in pours[:-1] if p.abv_e2]
        return not before or (new.at - before[-1]).total_seconds() >= limit.most
    if not amounts(limit, [new]):
        return True
    return all(sum(group) <= limit.most for group in groups(limit, pours))


@given(policies, st.lists(asks, max_size=8), asks, asks)
def test_a_pour_more_never_makes_a_later_answer_kinder(policy, tries, extra, last):
    with_extra, _ = run(policy, tries)
    minute, product, volume_ul, abv_e2, neat, visit = extra
    at = START + timedelta(minutes=minute)
    more = [*with_extra, Served("f" * 32, at, 1, visit, product, volume_ul, abv_e2, neat)]
    minute, product, volume_ul, abv_e2, neat, visit = last
    now, guest = START + timedelta(minutes=minute), Guest(ServiceState.MAY_BE_SERVED, visit)
    offer = Offer(product, volume_ul, abv_e2, neat)
    fewer_reasons = set(decide(policy, guest, with_extra, Server(), ROOM, now, offer).reasons)
    assert fewer_reasons <= set(decide(policy, guest, more, Server(), ROOM, now, offer).reasons)


def test_the_door_names_all_that_it_offers():
    assert all(hasattr(drinks, name) for name in drinks.__all__)
