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
PRODUCTS = ("blanco", "reserva")
VISITS = (1, 2, 3)
SCALE = {Kind.POURS: 1, Kind.VOLUME: 7000, Kind.DRINKS: 7000 * 4000, Kind.GLASSES: 1}

counted_limits = st.tuples(
    st.sampled_from(sorted(SCALE)),
    st.sampled_from(["visit", "day", 20, 90]),
    st.integers(1, 6),
    st.sampled_from(["*", "each one", *PRODUCTS]),
    st.booleans(),
    st.sampled_from([(), (), ("short",), ("short", "late")]),
)


def make_policy(parts, gap_s, visits):
    limits = [
        Limit(f"limit{n}", kind, per, most * SCALE[kind], product=product, neat_only=neat, tickets=tickets)
        for n, (kind, per, most, product, neat, tickets) in enumerate(parts)
    ]
    if gap_s:
        limits.append(Limit("gap", Kind.GAP, most=gap_s))
    if visits:
        limits.append(Limit("visits", Kind.VISITS, most=visits))
    return ServicePolicy(21, "house", 2026, tuple(limits))


policies = st.builds(
    make_policy,
    st.lists(counted_limits, max_size=4),
    st.sampled_from([0, 0, 240]),
    st.sampled_from([0, 0, 1, 2]),
)
tickets = st.sampled_from(["", "short", "long"])
asks = st.tuples(
    st.integers(0, 300),  # minutes from the start
    st.sampled_from(PRODUCTS),
    st.sampled_from([5000, 7000, 7393, 14_786]),
    st.sampled_from([0, 3000, 4000, 4500]),
    st.booleans(),
    st.sampled_from(VISITS),
    st.sampled_from([None, 1, 15, 60]),  # minutes until the glass is empty
)


def offer_of(ask):
    return Offer(*ask[1:5])


def at_of(ask):
    return START + timedelta(minutes=ask[0])


def guest_of(ask, ticket):
    return Guest(ServiceState.MAY_BE_SERVED, ask[5], ticket=ticket)


def served_of(n, ask):
    done = at_of(ask) + timedelta(minutes=ask[6]) if ask[6] else None
    return Served(f"{n:032x}", at_of(ask), 1, ask[5], *ask[1:5], done)


def answer_of(policy, ticket, pours, ask):
    return decide(policy, guest_of(ask, ticket), pours, Server(), ROOM, at_of(ask), offer_of(ask))


def run(policy, ticket, tries):
    """Ask in the order given, whatever the times; return what was granted and every answer."""
    pours, answers = [], []
    for n, ask in enumerate(tries):
        answers.append(answer_of(policy, ticket, pours, ask))
        if answers[-1].granted:
            pours.append(served_of(n, ask))
    return pours, answers


# From here to the first test: an independent reading of the rules, over all pours at once.


def strong(pours):
    return [p for p in pours if p.abv_e2]


def seen(limit, pours):
    """Split the pours that a limit sees into those that it counts together, by product."""
    of_limit = [p for p in strong(pours) if p.neat or not limit.neat_only]
    if limit.product == "each one":
        return [[p for p in of_limit if p.product == product] for product in PRODUCTS]
    return [[p for p in of_limit if limit.product in ("*", p.product)]]


def together(limit, pours):
    """Split further by the span of time within which a limit must hold."""
    if limit.per == "day":
        return [pours]
    if limit.per == "visit":
        return [[p for p in pours if p.visit == visit] for visit in VISITS]
    span = timedelta(minutes=limit.per)
    return [[p for p in pours if first.at <= p.at < first.at + span] for first in pours]


def amount(limit, pours):
    if limit.kind is Kind.GLASSES:  # the most that ever stood together
        return max((sum(stood(p, q.at) for p in pours) for q in pours), default=0)
    unit = {
        "pours": lambda p: 1,
        "volume": lambda p: p.volume_ul,
        "drinks": lambda p: p.volume_ul * p.abv_e2,
    }
    return sum(unit[limit.kind.value](p) for p in pours)


def stood(pour, at):
    return pour.at <= at and (pour.done_at is None or pour.done_at > at)


def kept(limit, pours, ticket):
    """Say whether a limit was kept over all pours."""
    if limit.tickets and ticket and ticket not in limit.tickets:
        return True
    if limit.kind is Kind.GAP:
        times = sorted(p.at for p in strong(pours))
        return all((b - a).total_seconds() >= limit.most for a, b in pairwise(times))
    if limit.kind is Kind.VISITS:
        return len({p.visit for p in strong(pours)}) <= limit.most
    groups = (group for of_product in seen(limit, pours) for group in together(limit, of_product))
    return all(amount(limit, group) <= limit.most for group in groups)


def touches(limit, pour):
    return limit.kind in (Kind.GAP, Kind.VISITS) or any(seen(limit, [pour]))


@given(policies, tickets, st.lists(asks, max_size=14))
def test_no_order_of_asks_is_granted_beyond_any_limit(policy, ticket, tries):
    pours, _ = run(policy, ticket, tries)
    assert [limit.id for limit in policy.limits if not kept(limit, pours, ticket)] == []


@given(policies, tickets, st.lists(asks, max_size=14))
def test_asked_in_order_of_time_decide_equals_an_independent_fold(policy, ticket, tries):
    tries = sorted(tries, key=lambda ask: ask[0])
    pours, answers = run(policy, ticket, tries)
    had = []
    for n, (ask, answer) in enumerate(zip(tries, answers, strict=True)):
        new = served_of(n, ask)
        against = [
            limit.id
            for limit in policy.limits
            if new.abv_e2 and touches(limit, new) and not kept(limit, [*had, new], ticket)
        ]
        told = [{"wait": "gap"}.get(reason, reason) for reason in answer.reasons]
        assert sorted(told) == sorted(against)
        had += [] if against else [new]
    assert had == pours


@given(policies, tickets, st.lists(asks, max_size=8), asks, asks)
def test_a_pour_more_never_makes_a_later_answer_kinder(policy, ticket, tries, extra, last):
    pours, _ = run(policy, ticket, tries)
    fewer = set(answer_of(policy, ticket, pours, last).reasons)
    assert fewer <= set(answer_of(policy, ticket, [*pours, served_of(99, extra)], last).reasons)


@given(policies, tickets, st.lists(asks, max_size=8), asks)
def test_a_smaller_or_weaker_pour_is_never_refused_where_a_larger_is_granted(policy, ticket, tries, last):
    pours, _ = run(policy, ticket, tries)
    minute, product, volume_ul, abv_e2, *rest = last
    smaller = (minute, product, volume_ul - 1, max(abv_e2 - 1, 0), *rest)
    larger = set(answer_of(policy, ticket, pours, last).reasons)
    if abv_e2:
        assert set(answer_of(policy, ticket, pours, smaller).reasons) <= larger


PUBLIC = """
    ANY_PRODUCT COUNTED EACH_PRODUCT ETHANOL_PER_ML FL_OZ_ML GAP LAST_POUR LOWERED NO_ALCOHOL
    STANDARD_DRINKS Allowance Cost DayRestriction Decision Guest Kind Left Limit Mark Offer Part Per
    Plan Pour PourMark Refill Room Sample Served Server ServiceHours ServicePolicy ServiceState Serving
    Sitting StandardDrink Turn against_pouring allowance born_on_or_before cost counted counted_abv_e2
    decide drinks_had drinks_left ethanol ethanol_g fits guest_gone guest_state is_stricter parse_drinks
    parse_volume parse_volume_ul plan serving standard_drinks tighten
"""


def test_the_public_names_of_drinks_are_imported_from_here():
    assert [name for name in PUBLIC.split() if not hasattr(drinks, name)] == []
