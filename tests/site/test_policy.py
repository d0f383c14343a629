"""Policies as a licensee writes them, and the statutes that must all be expressible.

The statutes are those whose text or published summary was read, with the year
of that text; they are examples of what a policy can say, not legal advice.
"""

from __future__ import annotations

import json
from datetime import time
from fractions import Fraction
from typing import Any

import pytest

from kiosk.figures.drinks import EACH_PRODUCT, STANDARD_DRINKS, Kind, Limit, ServiceHours, ServicePolicy
from kiosk.site.faults import SiteFaults
from kiosk.site.policy_json import policy_body
from tests.site.policies import policy_from

US = STANDARD_DRINKS["US"]
UNDATED = 2026  # the text was read as in force and bore no year of its own
HOUSE = {"basis": "house rule", "year": 2026}


def service(*limits: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"guest_age": 21, **HOUSE, "limit": [{**HOUSE, **limit} for limit in limits], **more}


def law(id: str, basis: str, year: int, **limit: Any) -> dict[str, Any]:
    return {"id": id, "basis": basis, "year": year, **limit}


def half_ounce(basis: str, year: int) -> dict[str, Any]:
    return law("largest", basis, year, kind="largest", most="0.5 fl oz")


def day(most: str, basis: str, year: int, **more: Any) -> dict[str, Any]:
    return law("day", basis, year, kind="volume", per="day", most=most, **more)


STATUTES: dict[str, dict[str, Any]] = {
    "Washington, RCW 66.24.145(3)": service(
        half_ounce("RCW 66.24.145(3)", UNDATED), day("2 fl oz", "RCW 66.24.145(3)", UNDATED)
    ),
    "Washington, WAC 314-28-065 of December 2024": service(
        day("2 fl oz", "WAC 314-28-065", 2024, neat_only=True)
    ),
    "California, B&P 23363.1(c) of 2014": service(
        law("largest", "B&P 23363.1(c)", 2014, kind="largest", most="0.25 fl oz"),
        law("pours", "B&P 23363.1(c)", 2014, kind="pours", per="day", most=6),
        day("1.5 fl oz", "B&P 23363.1(c)", 2014),
    ),
    "Kentucky, KRS 243.0305 from 2016": service(day("1.75 fl oz", "KRS 243.0305", 2016)),
    "South Carolina, 61-6-1140": service(
        day("4.5 fl oz", "SC Code 61-6-1140", UNDATED, tour="with"),
        hours=[{"days": ["mon", "tue", "wed", "thu", "fri", "sat"], "from": time(9), "until": time(19)}],
    ),
    "Maryland, Art. 2B s 2-202": service(
        half_ounce("Art. 2B s 2-202", 2014),
        law("pours", "Art. 2B s 2-202", 2014, kind="pours", per="day", most=3, tour="after"),
        law("each", "Art. 2B s 2-202", 2014, kind="pours", per="day", most=1, product="blanco"),
    ),
    "New Jersey, craft distillery license of 2013": service(
        half_ounce("craft distillery license", 2013),
        law("pours", "craft distillery license", 2013, kind="pours", per="day", most=3),
        day("1.5 fl oz", "craft distillery license", 2013, tour="with"),
    ),
    "Nevada, NRS 597.235(2)(d)": service(day("4 fl oz", "NRS 597.235(2)(d)", 2019)),
    "Georgia, SB 63 from 2015": service(day("1.5 fl oz", "SB 63", 2015, tour="with")),
    "Oregon, OAR 845-006-0452": service(rooms=["main"], hours=[{"from": "07:00", "until": "02:30"}]),
    "United Kingdom, SI 1988/2039": service(
        law("sizes", "SI 1988/2039", 2001, kind="sizes", sizes=["25 mL"], multiples=True, neat_only=True)
    ),
}


@pytest.mark.parametrize("place", STATUTES)
def test_every_statute_can_be_written_down(place: str) -> None:
    policy = policy_from(STATUTES[place], US)
    assert [limit.id for limit in policy.limits] == [limit["id"] for limit in STATUTES[place]["limit"]]
    assert all(limit.basis != "house rule" and limit.year > 1980 for limit in policy.limits)


def test_a_limit_in_ounces_is_rounded_up_to_whole_microlitres() -> None:
    """1.5 US fl oz is 44 360.29 µL: a limit is never cut short by rounding."""
    (limit,) = policy_from(
        service({"id": "day", "kind": "volume", "per": "day", "most": "1.5 fl oz"}), US
    ).limits
    assert limit.most == 44_361


def test_a_limit_in_drinks_is_of_the_sites_own_standard_drink() -> None:
    """One US drink is 0.6 fl oz of ethanol = 17.744 mL (NIAAA); one UK unit 10 mL."""
    table = service({"id": "drinks", "kind": "drinks", "per": "visit", "most": "1 drink"})
    (us,), (uk,) = policy_from(table, US).limits, policy_from(table, STANDARD_DRINKS["GB"]).limits
    assert us.most == 177_441_178
    assert uk.most == 100_000_000


def test_sizes_stay_exact() -> None:
    (limit,) = policy_from(service({"id": "s", "kind": "sizes", "sizes": ["25 mL", "0.5 fl oz"]}), US).limits
    assert limit.sizes_ul == (Fraction(25_000), Fraction("14786.76478125"))
    assert limit.per == "pour"


def test_a_gap_is_written_in_minutes_and_kept_in_seconds() -> None:
    (limit,) = policy_from(service({"id": "wait", "kind": "gap", "most": 10}), US).limits
    assert (limit.kind, limit.most) == (Kind.GAP, 600)


def test_a_rolling_window_is_a_number_of_minutes() -> None:
    (limit,) = policy_from(service({"id": "hour", "kind": "pours", "per": 60, "most": 2}), US).limits
    assert limit.per == 60


def test_hours_without_days_are_every_days() -> None:
    (hours,) = policy_from(STATUTES["Oregon, OAR 845-006-0452"], US).hours
    assert (hours.days, hours.from_, hours.until) == (frozenset(range(7)), time(7), time(2, 30))


@pytest.mark.parametrize(
    ("limit", "key", "allowed"),
    [
        ({"kind": "volume", "per": "day", "most": "1 fl oz"}, "limit[1].id", "lower case"),
        ({"id": "a", "kind": "tumblers"}, "limit[1].kind", "one of"),
        ({"id": "a", "kind": "volume", "most": "1 fl oz"}, "limit[1].per", '"visit", "day"'),
        ({"id": "a", "kind": "volume", "per": "week", "most": "1 fl oz"}, "limit[1].per", '"visit", "day"'),
        ({"id": "a", "kind": "volume", "per": 0, "most": "1 fl oz"}, "limit[1].per", "minutes"),
        (
            {"id": "a", "kind": "volume", "per": "pour", "most": "1 fl oz"},
            "limit[1].per",
            "largest and sizes",
        ),
        (
            {"id": "a", "kind": "largest", "per": "day", "most": "1 fl oz"},
            "limit[1].per",
            "largest and sizes",
        ),
        ({"id": "a", "kind": "volume", "per": "day"}, "limit[1].most", "a volume"),
        ({"id": "a", "kind": "volume", "per": "day", "most": "0 mL"}, "limit[1].most", "more than zero"),
        ({"id": "a", "kind": "volume", "per": "day", "most": 2}, "limit[1].most", "a volume"),
        ({"id": "a", "kind": "drinks", "per": "day", "most": "14 g"}, "limit[1].most", "standard drinks"),
        ({"id": "a", "kind": "pours", "per": "day", "most": 1.5}, "limit[1].most", "whole number"),
        ({"id": "a", "kind": "pours", "per": "day", "most": True}, "limit[1].most", "whole number"),
        ({"id": "a", "kind": "sizes"}, "limit[1].sizes", "at least one size"),
        ({"id": "a", "kind": "sizes", "sizes": ["a dram"]}, "limit[1].sizes", "a volume"),
        ({"id": "a", "kind": "gap", "most": 5, "product": "blanco"}, "limit[1].product", "every product"),
        ({"id": "a", "kind": "gap", "most": 5, "tickets": ["short"]}, "limit[1].tickets", "only with"),
        ({"id": "a", "kind": "pours", "per": "day", "most": 3, "tickets": "x"}, "limit[1].tickets", "a list"),
        (
            {"id": "a", "kind": "pours", "per": "day", "most": 3, "liquids_below": 3},
            "limit[1].liquids_below",
            "largest and sizes",
        ),
        ({"id": "a", "kind": "sizes", "sizes": ["25 mL"], "liquids_below": 1}, "limit[1].liquids_below", "2"),
        ({"id": "a", "kind": "glasses"}, "limit[1].most", "glasses"),
        ({"id": "a", "kind": "visits", "most": 0}, "limit[1].most", "visits"),
        ({"id": "a", "kind": "visits", "per": "visit", "most": 1}, "limit[1].per", '"day" for visits'),
        ({"id": "a", "kind": "pours", "per": "day", "most": 3, "tour": "before"}, "limit[1].tour", "one of"),
        ({"id": "a", "kind": "pours", "per": "day", "most": 3, "basis": ""}, "limit[1].basis", "house rule"),
        ({"id": "a", "kind": "pours", "per": "day", "most": 3, "year": "2014"}, "limit[1].year", "the year"),
        ({"id": "a", "kind": "pours", "per": "day", "most": 3, "max": 3}, "limit[1].max", "only these keys"),
    ],
)
def test_a_limit_that_cannot_be_meant_is_refused(limit: dict[str, Any], key: str, allowed: str) -> None:
    with pytest.raises(SiteFaults) as raised:
        policy_from(service(limit), US)
    assert raised.value.faults[0].key == key
    assert allowed in str(raised.value)


def test_two_limits_never_share_an_id() -> None:
    limit = {"id": "a", "kind": "pours", "per": "day", "most": 3}
    with pytest.raises(SiteFaults, match="an id that no other limit has"):
        policy_from(service(limit, limit), US)


@pytest.mark.parametrize("missing", ["guest_age", "basis", "year"])
def test_a_policy_says_its_age_its_basis_and_its_year(missing: str) -> None:
    table = {key: value for key, value in service().items() if key != missing}
    with pytest.raises(SiteFaults, match=f"{missing} is missing"):
        policy_from(table, US)


def _policy(**changed: Any) -> ServicePolicy:
    limit = {"id": "day", "kind": "volume", "per": "day", "most": "1.5 fl oz", **changed}
    return policy_from(service(limit, hours=[{"from": time(9), "until": time(18)}]), US)


def test_the_body_of_a_policy_is_plain_json_with_a_digest() -> None:
    body, digest = policy_body(_policy())
    assert json.loads(json.dumps(body)) == body
    assert body["limits"][0]["most"] == 44_361
    assert body["hours"] == [
        {
            "days": ["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
            "from": "09:00:00",
            "until": "18:00:00",
            "last_pour": None,
        }
    ]
    assert len(digest) == 64
    assert policy_body(_policy()) == (body, digest)


@pytest.mark.parametrize(
    "changed",
    [{"most": "1.75 fl oz"}, {"basis": "KRS 243.0305"}, {"year": 2027}, {"per": "visit"}, {"tour": "with"}],
)
def test_any_change_of_a_rule_changes_the_digest(changed: dict[str, Any]) -> None:
    assert policy_body(_policy(**changed))[1] != policy_body(_policy())[1]


def test_the_digest_covers_every_field_of_a_policy() -> None:
    body, _ = policy_body(_policy())
    of_a_day = {"last_pour_s", "dry"}  # a manager's words, which end with their day
    assert set(body) == set(ServicePolicy.__slots__) - of_a_day
    assert set(body["limits"][0]) == set(Limit.__slots__)
    assert {name.rstrip("_") for name in ServiceHours.__slots__} == set(body["hours"][0])


@pytest.mark.parametrize(
    "changed", [{"mixers": False}, {"own_only": True}, {"server_age": 21}, {"server_permit": "class 12"}]
)
def test_any_change_of_a_rule_of_the_house_changes_the_digest(changed: dict[str, Any]) -> None:
    before = policy_from(service(), US)
    after = policy_from(service(**changed), US)
    assert {name: getattr(after, name) for name in changed} == changed
    assert policy_body(after)[1] != policy_body(before)[1]


def test_what_is_not_written_is_not_asked() -> None:
    policy = policy_from(service(), US)
    assert (policy.mixers, policy.own_only, policy.server_age, policy.server_permit) == (True, False, 0, "")


@pytest.mark.parametrize(
    ("limit", "kind", "per", "most"),
    [
        ({"kind": "glasses", "most": 2}, Kind.GLASSES, "day", 2),
        ({"kind": "glasses", "per": 15, "most": 2}, Kind.GLASSES, 15, 2),
        ({"kind": "visits", "most": 1}, Kind.VISITS, "day", 1),
    ],
)
def test_glasses_and_visits_are_counted_over_the_day_unless_said(
    limit: dict[str, Any], kind: Kind, per: str | int, most: int
) -> None:
    (read,) = policy_from(service({"id": "x", **limit}), US).limits
    assert (read.kind, read.per, read.most) == (kind, per, most)


def test_a_limit_may_hold_for_each_product_for_some_tickets_and_not_for_mixes() -> None:
    each, short, sizes = policy_from(
        service(
            {"id": "each", "kind": "pours", "per": "day", "most": 1, "product": "each one"},
            {"id": "short", "kind": "volume", "per": "visit", "most": "1 fl oz", "tickets": ["short"]},
            {"id": "sizes", "kind": "sizes", "sizes": ["25 mL"], "liquids_below": 3},
        ),
        US,
    ).limits
    assert each.product == EACH_PRODUCT
    assert short.tickets == ("short",)
    assert sizes.liquids_below == 3


def test_pouring_may_stop_before_closing() -> None:
    (hours,) = policy_from(
        service(hours=[{"from": "09:00", "until": "18:00", "last_pour": "17:45"}]), US
    ).hours
    assert (hours.until, hours.last_pour) == (time(18), time(17, 45))


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ({"mixers": "no"}, "mixers"),
        ({"own_only": 1}, "own_only"),
        ({"server_age": 31}, "server_age"),
        ({"server_permit": ""}, "server_permit"),
        ({"hours": [{"from": "09:00", "until": "18:00", "last_pour": "late"}]}, "hours[1].last_pour"),
    ],
)
def test_a_rule_of_the_house_that_cannot_be_meant_is_refused(table: dict[str, Any], key: str) -> None:
    with pytest.raises(SiteFaults) as raised:
        policy_from(service(**table), US)
    assert raised.value.faults[0].key == key
