"""Which closure holds at a stop, and who may open it again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kiosk.figures.tours.closures import REASONS, Closure, standing

NOON = datetime(2026, 6, 16, 12, 0, tzinfo=UTC)


def closure(key: str, reason: str = "other", hours: float | None = None, stop: str = "mill") -> Closure:
    """Return a closure that ends some hours after noon, or by a person only."""
    until = None if hours is None else NOON + timedelta(hours=hours)
    return Closure(key, stop, reason, NOON - timedelta(hours=1), until, "Ana")


def test_a_closure_holds_until_its_time_and_not_longer() -> None:
    one = closure("a", "spraying", 2)
    assert standing([one], NOON) == {"mill": one}
    assert standing([one], NOON + timedelta(hours=2) - timedelta(seconds=1)) == {"mill": one}
    assert standing([one], NOON + timedelta(hours=2)) == {}


def test_of_several_closures_the_one_that_ends_last_is_shown() -> None:
    short, long, by_hand = closure("a", hours=1), closure("b", hours=3), closure("c", "co2")
    for order in ([short, long, by_hand], [by_hand, long, short], [long, by_hand, short]):
        assert standing(order, NOON)["mill"] == by_hand
    assert standing([long, short], NOON)["mill"] == standing([short, long], NOON)["mill"] == long


def test_each_stop_has_its_own() -> None:
    there = closure("b", stop="yard")
    assert set(standing([closure("a"), there], NOON)) == {"mill", "yard"}


@pytest.mark.parametrize("reason", ["co2", "spraying", "still", "machine"])
def test_only_production_opens_again_what_only_production_can_judge(reason: str) -> None:
    assert closure("a", reason).may_reopen(["production"])
    assert not closure("a", reason).may_reopen(["guide", "manager", "bar", "trainee"])


@pytest.mark.parametrize("reason", sorted(REASONS.keys() - {"co2", "spraying", "still", "machine"}))
def test_a_guide_or_a_manager_opens_everything_else(reason: str) -> None:
    assert closure("a", reason).may_reopen(["guide"])
    assert closure("a", reason).may_reopen(["manager"])
    assert not closure("a", reason).may_reopen(["production", "bar", "trainee"])


def test_no_time_ends_what_an_instrument_or_the_person_at_the_work_must_judge() -> None:
    assert {code for code, reason in REASONS.items() if not reason.ends_by_time} == {
        "co2",
        "still",
        "machine",
        "fire",
    }
