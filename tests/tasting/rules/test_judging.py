"""Each serving is judged at its own time, against those before it, under its own policy."""

from __future__ import annotations

import random
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import event

from kiosk.figures.drinks import DayRestriction, Kind, Limit
from kiosk.figures.service.policy import GAP as GAP_WORD
from kiosk.store.engine import Store
from kiosk.store.ledgers import new_key
from kiosk.tasting.rules import policy
from kiosk.tasting.rules.judging import judge
from tests.tasting_room import HALF_UL, LIMITS, QUARTER_UL, SIX_A_DAY, Tasting, tasting_site

GAP = Limit("gap", Kind.GAP, "day", 600)
THREE_A_DAY = replace(SIX_A_DAY, most=3)
RULES = (LIMITS, (GAP,), (THREE_A_DAY,), (*LIMITS, GAP), ())


def verdicts(tasting: Tasting, days: int = 1, room: str = "") -> list:
    since, _ = tasting.site.day_bounds(tasting.site.service_day(tasting.now))
    with tasting.store.read() as session:
        return judge(session, tasting.site, since - timedelta(days=days - 1), since + timedelta(days=1), room)


def put_in_force(tasting: Tasting, *limits: Limit) -> None:
    """Change the rules of the house and confirm them."""
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, limits=limits))
    with tasting.store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=tasting.ana, at=tasting.now)


def say(tasting: Tasting, rule: str, most: int) -> None:
    """Tighten the rules for the day where that is stricter."""
    with suppress(policy.NotStricter), tasting.store.write() as session:
        word = DayRestriction(rule, most, tasting.now)
        policy.tighten_for_day(session, tasting.site, tasting.origin(), policy.EVERY_ROOM, word, "a hot day")


def reasons(tasting: Tasting) -> list:
    return [one.reasons for one in verdicts(tasting)]


def test_a_serving_is_judged_by_the_rules_of_its_time_not_by_those_of_today(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    tasting.pour(guest, volume_ul=HALF_UL)
    tasting.now += timedelta(minutes=1)
    put_in_force(tasting, replace(LIMITS[0], most=QUARTER_UL + 1))
    tasting.now += timedelta(minutes=1)
    tasting.pour(guest, volume_ul=HALF_UL, asked=False)
    tasting.now += timedelta(minutes=1)
    put_in_force(tasting)
    assert reasons(tasting) == [(), ("largest",)]


def test_what_came_before_under_other_rules_counts_all_the_same(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    for _ in range(3):
        tasting.pour(guest)
        tasting.now += timedelta(minutes=1)
    put_in_force(tasting, THREE_A_DAY)
    tasting.pour(guest, asked=False)
    assert reasons(tasting) == [(), (), (), ("day_pours",)]


@pytest.mark.parametrize("seed", range(5))
def test_over_random_days_a_verdict_is_what_was_answered_at_the_time(
    sqlite_store: Store, tmp_path, now, seed: int
) -> None:
    """While all is told as it happens, judging afterwards finds what the tablet was told then."""
    rng = random.Random(seed)
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now, guests=3)
    tasting.check(*tasting.guests[:2])
    answered = {}
    for _ in range(25):
        tasting.now += timedelta(minutes=rng.choice([1, 5, 20]))
        match rng.choice(["pour", "pour", "pour", "pour", "rules", "word", "mark", "step"]):
            case "pour":
                size, glass = rng.choice([QUARTER_UL, HALF_UL]), rng.choice(["blanco", "anejo", "reserva"])
                told = tasting.pour(rng.choice(tasting.guests), glass, size, asked=rng.random() < 0.5)
                if told.outcome == "poured":
                    answered[told.key] = set(told.reasons)
            case "rules":
                put_in_force(tasting, *rng.choice(RULES))
            case "word":
                say(tasting, *rng.choice([("day_pours", 2), ("largest", QUARTER_UL + 1), (GAP_WORD, 1200)]))
            case "mark":
                tasting.mark(
                    rng.choice(tasting.guests),
                    rng.choice(["no_alcohol", "no_alcohol_lifted", "gone", "back"]),
                )
            case "step":
                tasting.step(rng.choice(["start", "finish"]))
    found = {one.served.key: set(one.reasons) for one in verdicts(tasting)}
    assert found == answered
    assert any(found.values())
    assert not all(found.values())


def test_a_glass_that_was_not_served_after_all_counts_against_nobody(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    poured = [tasting.pour(guest, volume_ul=HALF_UL, asked=False) for _ in range(4)]
    assert [bool(one) for one in reasons(tasting)].count(True) == 1
    tasting.correct(poured[0].key, "not_served")
    assert reasons(tasting) == [(), (), ()]


def test_a_glass_told_late_is_judged_at_its_own_time(tasting: Tasting) -> None:
    guest = tasting.guests[0]
    put_in_force(tasting, THREE_A_DAY)
    tasting.now += timedelta(hours=1)
    for _ in range(3):
        tasting.pour(guest)
    happened = tasting.now - timedelta(minutes=30)
    tasting.pour(guest, asked=False, happened_at=happened)
    assert reasons(tasting) == [(), (), (), ("day_pours",)], "the one that was poured last is one too many"
    assert verdicts(tasting)[0].served.at == happened


def test_a_guest_of_yesterday_and_rules_that_nobody_confirmed_are_told(tasting: Tasting) -> None:
    tasting.now += timedelta(days=1)
    tasting.pour(tasting.guests[0], asked=False)
    tasting.site = replace(tasting.site, policy=replace(tasting.site.policy, limits=()))
    tasting.pour(tasting.guests[0], asked=False)
    found = {one.reasons for one in verdicts(tasting)}
    assert found == {("other_day",), ("no_policy", "other_day")}


def test_no_query_is_asked_for_each_serving_or_day(tasting: Tasting) -> None:
    def asked(days: int) -> int:
        statements: list[str] = []

        def note(_c, _cursor, statement, *_rest) -> None:
            statements.append(statement)

        event.listen(tasting.store.engine, "before_cursor_execute", note)
        verdicts(tasting, days)
        event.remove(tasting.store.engine, "before_cursor_execute", note)
        return len(statements)

    tasting.pour(tasting.guests[0])
    once = asked(1)
    for _ in range(5):
        tasting.pour(tasting.guests[0], asked=False)
        tasting.now += timedelta(days=1)
    assert asked(9) == once
