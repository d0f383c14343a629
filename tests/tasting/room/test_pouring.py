"""Glasses on record with every later entry about them, held by those who are about to correct them.

One entry for a pour: granted, refused, repeated, or recorded as a fact.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import func, select

from kiosk.figures.drinks import Kind, Limit, ServicePolicy
from kiosk.figures.service.bottles import Fate
from kiosk.site.settings import Mixer, Recipe
from kiosk.store.errors import KeyConflict, NoSuchRow
from kiosk.store.ledgers import new_key
from kiosk.store.tables.tasting import approvals, pours, refusals
from kiosk.tasting.approvals.approvals import UnknownProduct
from kiosk.tasting.room.pouring import Belief, UnknownPour, lock_glasses
from kiosk.tasting.rules import policy
from tests.bar import looked_at, opened
from tests.tasting_room import HALF_UL, LIMITS, OUNCE_UL, QUARTER_UL, Tasting, tasting_site


def glasses(tasting, *keys):
    with tasting.store.write() as session:
        return lock_glasses(session, keys)


def test_a_glass_comes_with_every_guest_who_had_it_and_what_became_of_it(tasting):
    first, second = tasting.guests
    poured, other = tasting.pour(first), tasting.pour(first)
    tasting.correct(poured.key, "reassign", second)
    tasting.now += timedelta(minutes=1)
    tasting.correct(poured.key, "not_served")
    moved, untouched = glasses(tasting, poured.key, other.key)
    assert (moved.guests, moved.fate) == ({first, second}, Fate.CLEARED)
    assert {mark.kind for mark in moved.marks} == {"reassign", "not_served"}
    assert (untouched.guests, untouched.fate, untouched.marks) == ({first}, Fate.SERVED, ())


def test_glasses_come_in_the_order_in_which_they_are_asked_for(tasting):
    keys = [tasting.pour(tasting.guests[0]).key for _ in range(3)]
    for asked in (sorted(keys), sorted(keys, reverse=True)):
        assert [glass.pour.key for glass in glasses(tasting, *asked)] == asked


def test_a_glass_that_is_not_on_record_is_refused(tasting):
    poured = tasting.pour(tasting.guests[0])
    for keys in ([], [new_key()], [poured.key, new_key()]):
        with pytest.raises(UnknownPour):
            glasses(tasting, *keys)


def count(tasting, table):
    with tasting.store.read() as session:
        return session.scalar(select(func.count()).select_from(table))


def test_six_quarter_ounces_fill_the_day_and_the_seventh_is_refused(tasting):
    guest = tasting.guests[0]
    answers = [tasting.pour(guest, "jengibre") for _ in range(7)]
    assert [a.outcome for a in answers] == ["poured"] * 6 + ["refused"]
    assert answers[6].reasons == ("day_pours", "day_volume")
    assert (count(tasting, pours), count(tasting, refusals)) == (6, 1)


def test_three_half_ounces_fill_the_days_volume(tasting):
    answers = [tasting.pour(tasting.guests[0], "jengibre", HALF_UL) for _ in range(4)]
    assert [a.outcome for a in answers] == ["poured"] * 3 + ["refused"]
    assert answers[3].reasons == ("day_volume",)


def test_nothing_is_poured_before_the_age_check(tasting):
    unchecked = tasting.guests[1]
    assert tasting.pour(unchecked).reasons == ("not_checked",)
    tasting.check(unchecked)
    assert tasting.pour(unchecked).outcome == "poured"


STATES = [
    (("under_age",), "under_age"),
    (("no_alcohol",), "no_alcohol"),
    (("no_alcohol", "no_alcohol_lifted"), None),
    (("service_stopped",), "service_stopped"),
    (("service_stopped", "service_resumed"), None),
    (("gone",), "gone"),
    (("gone", "back"), None),
    (("liked",), None),
]


@pytest.mark.parametrize(("kinds", "reason"), STATES)
def test_a_guests_state_decides(tasting, kinds, reason):
    for kind in kinds:
        tasting.now += timedelta(seconds=1)
        tasting.mark(tasting.guests[0], kind)
    assert tasting.pour(tasting.guests[0]).reasons == ((reason,) if reason else ())


@pytest.mark.parametrize("kind", ["under_age", "no_alcohol", "service_stopped", "gone"])
def test_alcohol_free_is_poured_for_everybody(tasting, kind):
    tasting.mark(tasting.guests[0], kind)
    assert tasting.pour(tasting.guests[0], "ponche-sin", 100_000).outcome == "poured"


def test_the_same_tap_sent_again_gets_the_stored_answer(tasting):
    key = new_key()
    first = tasting.pour(tasting.guests[0], key=key)
    tasting.now += timedelta(minutes=5)
    assert tasting.pour(tasting.guests[0], key=key) == first
    assert count(tasting, pours) == 1


def test_a_refused_tap_sent_again_is_refused_again_though_it_would_fit_now(tasting):
    key = new_key()
    guest = tasting.guests[1]
    first = tasting.pour(guest, key=key)
    tasting.check(guest)
    assert tasting.pour(guest, key=key) == first
    assert first.reasons == ("not_checked",)
    assert (count(tasting, pours), count(tasting, refusals)) == (0, 1)


@pytest.mark.parametrize(
    "change", [{"volume_ul": HALF_UL}, {"name": "anejo"}, {"neat": False}, {"by": "bea"}]
)
def test_the_same_key_with_another_body_is_a_conflict(tasting, change):
    key = new_key()
    tasting.pour(tasting.guests[0], key=key)
    if change == {"by": "bea"}:
        change = {"by": tasting.bea}
    with pytest.raises(KeyConflict):
        tasting.pour(tasting.guests[0], key=key, **change)


def test_the_same_key_for_another_guest_is_a_conflict(tasting):
    key = new_key()
    tasting.pour(tasting.guests[0], key=key)
    with pytest.raises(KeyConflict):
        tasting.pour(tasting.guests[1], key=key)
    refused = new_key()
    tasting.pour(tasting.guests[1], key=refused)
    with pytest.raises(KeyConflict):
        tasting.pour(tasting.guests[0], key=refused)


def test_what_was_poured_is_a_fact_and_is_recorded_with_its_flags(tasting):
    answer = tasting.pour(tasting.guests[1], "reserva", HALF_UL * 4, asked=False)
    assert answer.outcome == "poured"
    assert answer.reasons == ("not_checked", "not_approved", "largest", "day_volume")
    assert tasting.room().tile(tasting.guests[1]).over


def test_a_fact_is_judged_by_what_came_before_it(tasting):
    guest = tasting.guests[0]
    then = tasting.now
    tasting.now += timedelta(minutes=30)
    for _ in range(6):
        tasting.pour(guest, "jengibre")
    late = tasting.pour(guest, "jengibre", asked=False, happened_at=then + timedelta(minutes=1))
    assert (late.reasons, late.at) == ((), then + timedelta(minutes=1))
    assert tasting.pour(guest, "jengibre", asked=False).reasons == ("day_pours", "day_volume")


def test_an_ask_is_decided_now_whatever_time_it_claims(tasting):
    answer = tasting.pour(tasting.guests[0], happened_at=tasting.now - timedelta(hours=3))
    assert answer.at == tasting.now


def test_nothing_that_happened_lies_in_the_future(tasting):
    ahead = tasting.now + timedelta(hours=2)
    assert tasting.pour(tasting.guests[0], asked=False, happened_at=ahead).at == tasting.now


def test_unapproved_stock_is_refused(tasting):
    assert tasting.pour(tasting.guests[0], "reserva").reasons == ("not_approved",)


def test_an_approval_for_another_room_or_time_does_not_count(tasting):
    day = tasting.site.service_day(tasting.now)
    with tasting.store.write() as session:
        tasting.approval(session, "reserva", day, rooms=["terrace"])
        tasting.approval(session, "reserva", day + timedelta(days=1))
        tasting.approval(session, "reserva", day - timedelta(days=9), until_on=day - timedelta(days=1))
    assert tasting.pour(tasting.guests[0], "reserva").reasons == ("not_approved",)


def test_the_strength_of_the_approval_is_what_counts(tasting):
    with tasting.store.write() as session:
        tasting.approval(session, "reserva", tasting.site.service_day(tasting.now), abv_e2=5210)
    tasting.pour(tasting.guests[0], "reserva")
    with tasting.store.read() as session:
        assert session.scalar(select(pours.c.abv_e2)) == 5210


def test_an_unknown_guest_and_an_unknown_product_are_told_apart(tasting):
    with pytest.raises(NoSuchRow):
        tasting.pour(9999)
    with pytest.raises(UnknownProduct):
        tasting.pour(tasting.guests[0], "nothing")


def test_a_number_of_another_day_gets_nothing_today(tasting):
    tasting.now += timedelta(days=1)
    assert tasting.pour(tasting.guests[0]).reasons == ("other_day",)


def test_nothing_is_granted_outside_the_hours(tasting):
    tasting.now = tasting.now.replace(hour=22)
    assert tasting.pour(tasting.guests[0]).reasons == ("hours",)


def test_nothing_is_granted_while_no_policy_is_confirmed(store, now, tmp_path):
    tasting = Tasting.begun(store, tasting_site(tmp_path), now)
    tasting.check()
    changed = ServicePolicy(21, "another text", 2026, tasting.site.policy.limits)
    tasting.site = replace(tasting.site, policy=changed)
    assert tasting.pour(tasting.guests[0]).reasons == ("no_policy",)
    assert tasting.pour(tasting.guests[0], "ponche-sin").outcome == "poured"
    with store.write() as session:
        policy.confirm(session, tasting.site, key=new_key(), by=tasting.bea, at=now)
    assert tasting.pour(tasting.guests[0]).outcome == "poured"


def test_a_pour_carries_the_version_of_the_rules(tasting):
    tasting.pour(tasting.guests[0])
    with tasting.store.read() as session:
        key = policy.in_force(session, tasting.site).key
        assert session.scalar(select(pours.c.policy_key)) == key


def test_a_tour_condition_waits_for_the_tours_steps(store, now, tmp_path):
    after = Limit("tour", Kind.POURS, "day", 9, tour="after")
    tasting = Tasting.begun(store, tasting_site(tmp_path, limits=(after,)), now)
    tasting.check()
    assert tasting.pour(tasting.guests[0]).reasons == ("tour",)
    tasting.step("start")
    assert tasting.pour(tasting.guests[0]).reasons == ("tour",)
    tasting.step("finish")
    assert tasting.pour(tasting.guests[0]).outcome == "poured"


def test_a_void_gives_back_and_a_glass_moved_takes_from_the_other(tasting):
    first, second = tasting.guests
    tasting.check(second)
    keys = [tasting.pour(first, "jengibre").key for _ in range(6)]
    assert tasting.pour(first, "jengibre").outcome == "refused"
    tasting.correct(keys[0], "void")
    assert tasting.pour(first, "jengibre").outcome == "poured"
    tasting.correct(keys[1], "reassign", second)
    assert tasting.pour(first, "jengibre").outcome == "poured"
    answers = [tasting.pour(second, "jengibre").outcome for _ in range(6)]
    assert answers == ["poured"] * 5 + ["refused"]
    assert QUARTER_UL == 7393


def test_a_rolling_window_is_as_long_when_the_clock_is_changed(sqlite_store, tmp_path):
    one_an_hour = Limit("hour", Kind.POURS, 60, 1)
    site = tasting_site(tmp_path, limits=(one_an_hour,), zone=ZoneInfo("America/New_York"))
    site = replace(site, policy=replace(site.policy, hours=()))
    last_minutes = site.local(datetime(2026, 3, 8, 6, 50, tzinfo=UTC))  # 01:50; 02:00 becomes 03:00
    tasting = Tasting.begun(sqlite_store, site, last_minutes)
    tasting.check()
    assert tasting.pour(tasting.guests[0]).outcome == "poured"
    tasting.now = site.local(datetime(2026, 3, 8, 7, 10, tzinfo=UTC))
    assert tasting.room().tiles[0].next.reasons == ("hour",)
    assert tasting.pour(tasting.guests[0]).reasons == ("hour",)
    tasting.now += timedelta(minutes=40)
    assert tasting.pour(tasting.guests[0]).outcome == "poured"


def test_a_glass_told_under_the_key_of_its_refusal_was_poured_before_the_tablet_heard_it(tasting):
    unchecked = tasting.guests[1]
    refused = tasting.pour(unchecked)
    for _ in range(2):
        told = tasting.pour(unchecked, key=refused.key, asked=False)
        assert (told.outcome, count(tasting, pours), count(tasting, refusals)) == ("poured", 1, 1)
    assert tasting.room().tiles[1].tell_manager
    with pytest.raises(KeyConflict):
        tasting.pour(tasting.guests[0], key=refused.key, asked=False)


def test_a_granted_glass_that_is_told_again_is_the_same_glass(tasting):
    granted = tasting.pour(tasting.guests[0])
    assert tasting.pour(tasting.guests[0], key=granted.key, asked=False) == granted
    assert count(tasting, pours) == 1


def belief(tasting, count, skipped=0):
    return Belief(count, skipped, tasting.now)


def test_what_is_asked_on_an_outdated_belief_is_not_recorded(tasting):
    guest = tasting.guests[0]
    assert tasting.pour(guest, believed=belief(tasting, 0)).outcome == "poured"
    stale = tasting.pour(guest, believed=belief(tasting, 0))
    assert (stale.outcome, stale.guest_id) == ("changed", guest)
    assert (count(tasting, pours), count(tasting, refusals)) == (1, 0)
    assert tasting.pour(guest, believed=belief(tasting, 1), key=stale.key).outcome == "poured"


@pytest.mark.parametrize("change", ["skipped", "void", "moved"])
def test_a_sample_skipped_taken_back_or_moved_meanwhile_is_a_change(tasting, change):
    guest = tasting.guests[0]
    had = tasting.pour(guest)
    before = belief(tasting, 1)
    if change == "skipped":
        tasting.mark(guest, "declined", detail="anejo")
    else:
        tasting.correct(had.key, *{"void": ("void",), "moved": ("reassign", tasting.guests[1])}[change])
    assert tasting.pour(guest, believed=before).outcome == "changed"


def test_what_is_told_afterwards_is_recorded_whatever_its_tablet_believed(tasting):
    guest = tasting.guests[0]
    tasting.pour(guest)
    told = tasting.pour(guest, believed=belief(tasting, 0), asked=False)
    assert (told.outcome, count(tasting, pours)) == ("poured", 2)


def poured(tasting):
    """Return glass and spirit of every pour, in order."""
    p = pours.c
    with tasting.store.read() as session:
        return session.execute(
            select(p.recipe, p.product, p.volume_ul, p.abv_e2, p.neat).order_by(p.at, p.recorded_at)
        ).all()


@pytest.fixture
def welcoming(store, now, tmp_path):
    """A guest at a house that lets an ounce of welcome be served: its other rules stand."""
    rules = [limit for limit in LIMITS if limit.kind is not Kind.LARGEST]
    begun = Tasting.begun(store, tasting_site(tmp_path, limits=rules), now)
    begun.check()
    return begun


def test_a_mixed_glass_is_recorded_by_its_spirit_and_its_bottle_goes_down(welcoming):
    bottle = opened(welcoming, "jengibre")
    full = looked_at(welcoming, bottle).account().level_ul
    assert welcoming.pour(welcoming.guests[0], "welcome", OUNCE_UL).outcome == "poured"
    assert poured(welcoming) == [("welcome", "jengibre", OUNCE_UL, 3000, False)]
    assert full - looked_at(welcoming, bottle).account().level_ul == OUNCE_UL


def test_after_an_ounce_of_welcome_two_of_six_quarter_ounces_are_left(welcoming):
    guest = welcoming.guests[0]
    welcoming.pour(guest, "welcome", OUNCE_UL)
    answers = [welcoming.pour(guest, "jengibre") for _ in range(6)]
    assert [a.outcome for a in answers] == ["poured"] * 2 + ["refused"] * 4
    assert answers[2].reasons == ("day_volume",)


def test_a_mixed_glass_that_is_too_large_or_not_approved_is_refused(tasting):
    guest = tasting.guests[0]
    assert tasting.pour(guest, "welcome", OUNCE_UL).reasons == ("largest",)
    with tasting.store.write() as session:
        session.execute(approvals.delete().where(approvals.c.product == "jengibre"))
    assert tasting.pour(guest, "welcome", QUARTER_UL).reasons == ("not_approved",)


def test_where_spirits_are_poured_neat_only_no_mixed_glass_is(store, now, tmp_path):
    site = tasting_site(tmp_path)
    begun = Tasting.begun(store, replace(site, policy=replace(site.policy, mixers=False)), now)
    begun.check()
    assert begun.pour(begun.guests[0], "welcome", QUARTER_UL).reasons == ("neat_only",)
    assert begun.pour(begun.guests[0], "welcome-sin", 0).outcome == "poured"


@pytest.mark.parametrize("kind", ["id_check", "no_alcohol", "under_age", "service_stopped"])
def test_the_twin_is_refused_to_nobody(tasting, kind):
    guest = tasting.guests[1]
    tasting.mark(guest, kind)
    assert tasting.pour(guest, "welcome-sin", 0).reasons == ()
    assert poured(tasting) == [("welcome-sin", "welcome-sin", 0, 0, False)]


def test_a_mixed_glass_sent_again_gets_its_answer_and_another_glass_a_conflict(welcoming):
    guest, key = welcoming.guests[0], new_key()
    first = welcoming.pour(guest, "welcome", OUNCE_UL, key=key)
    assert welcoming.pour(guest, "welcome", OUNCE_UL, key=key) == first
    assert len(poured(welcoming)) == 1
    with pytest.raises(KeyConflict):
        welcoming.pour(guest, "jengibre", OUNCE_UL, key=key)
    twin = new_key()
    sent = [welcoming.pour(guest, "welcome-sin", 5000, key=twin) for _ in range(2)]
    assert sent[0] == sent[1]


def test_a_refused_mixed_glass_is_refused_again_under_its_key(tasting):
    guest, key = tasting.guests[0], new_key()
    assert tasting.pour(guest, "welcome", OUNCE_UL, key=key).outcome == "refused"
    assert tasting.pour(guest, "welcome", OUNCE_UL, key=key).outcome == "refused"


def test_a_recipe_that_adds_no_liquid_is_poured_neat_and_counts_as_such(store, now, tmp_path):
    once = Limit("once_neat", Kind.POURS, "day", most=1, neat_only=True)
    ice = Mixer({"en": "ice", "es": "hielo"}, 0)
    cold = Recipe(
        "cold", {"en": "Cold", "es": "Frío"}, {"en": "glass", "es": "vaso"}, (ice,), "blanco", HALF_UL
    )
    site = tasting_site(tmp_path, limits=(once,), recipes={"cold": cold})
    begun = Tasting.begun(store, site, now)
    begun.check(begun.guests[0])
    key = new_key()
    assert begun.pour(begun.guests[0], "cold", HALF_UL, key=key).outcome == "poured"
    assert begun.pour(begun.guests[0], "cold", HALF_UL, key=key).outcome == "poured"  # the same
    assert begun.pour(begun.guests[0], "cold", HALF_UL).reasons == ("once_neat",)


def test_an_experiment_whose_approval_has_ended_is_refused_and_one_told_late_is_still_unknown(tasting):
    with tasting.store.write() as session:
        tasting.approval(session, "trial-7", tasting.site.service_day(tasting.now), ended_at=tasting.now)
    key = new_key()
    for _ in range(2):
        answer = tasting.pour(tasting.guests[0], "trial-7", key=key)
        assert (answer.outcome, answer.reasons) == ("refused", ("not_approved",))
    with pytest.raises(UnknownProduct):
        tasting.pour(tasting.guests[0], "trial-7", asked=False)
