"""Waits that double for one person on one device, and sharing a tablet."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import pytest
from sqlalchemy import func, select

from kiosk.site.settings import Site
from kiosk.staff import sessions, waits
from kiosk.staff.devices import Device, enrol, new_code
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import set_pin
from kiosk.staff.sessions import IDLE, KEPT, SHIFT, entry_proof, is_proven, recognise, sign_ins_at
from kiosk.staff.waits import COUNTED
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables import staff as tables
from tests.actors import PIN, Clock, Screen, hire
from tests.small_app import EACH_DATABASE
from tests.staff.refusals import refused

WRONG = "985203"


def device(store: Store, site: Site, now: datetime, name: str = "tablet") -> int:
    """Enrol a device and return its id."""
    with store.write() as session:
        return enrol(session, site, new_code(session, site, name, "tablet", None, now), now).id


@pytest.mark.parametrize(
    ("failures", "seconds"), [(0, 0), (1, 1), (2, 2), (3, 4), (8, 128), (11, 900), (60, 900)]
)
def test_the_wait_doubles_up_to_a_quarter_of_an_hour(failures: int, seconds: int) -> None:
    assert waits.wait_s(failures) == seconds


def test_the_right_pin_is_not_even_looked_at_during_the_wait(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    at = now
    for wait in (1, 2, 4, 8):
        with refused(Refusal.WRONG_PIN):
            sessions.sign_in(store, site, who, here, WRONG, at)
        with refused(Refusal.MUST_WAIT) as raised:
            sessions.sign_in(store, site, who, here, PIN, at + timedelta(seconds=wait - 0.5))
        assert raised.value.facts == {"seconds": 1}
        at += timedelta(seconds=wait)
    assert sessions.sign_in(store, site, who, here, PIN, at)


def test_a_right_pin_ends_the_count(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    for second in (0, 1, 3):
        with refused(Refusal.WRONG_PIN):
            sessions.sign_in(store, site, who, here, WRONG, now + timedelta(seconds=second))
    sessions.sign_in(store, site, who, here, PIN, now + timedelta(seconds=7))
    with refused(Refusal.WRONG_PIN):
        sessions.sign_in(store, site, who, here, WRONG, now + timedelta(seconds=8))
    assert sessions.sign_in(store, site, who, here, PIN, now + timedelta(seconds=9))


def test_nobody_is_locked_out_from_another_device_or_by_another_person(
    store: Store, site: Site, now: datetime
) -> None:
    who, other = hire(store, site, now), hire(store, site, now, "Bo")
    here, there = device(store, site, now), device(store, site, now, "other")
    with refused(Refusal.WRONG_PIN):
        sessions.sign_in(store, site, who, here, WRONG, now)
    assert sessions.sign_in(store, site, who, there, PIN, now)
    assert sessions.sign_in(store, site, other, here, PIN, now)


def test_many_tries_at_once_are_one_look_at_the_pin(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)

    def attempt(n: int) -> Refusal:
        try:
            sessions.sign_in(store, site, who, here, f"98520{n % 10}", now)
        except StaffError as error:
            return error.reason
        raise AssertionError("a wrong PIN was let in")

    with ThreadPoolExecutor(8) as pool:
        outcomes = list(pool.map(attempt, range(16)))
    assert (outcomes.count(Refusal.WRONG_PIN), outcomes.count(Refusal.MUST_WAIT)) == (1, 15)


def test_strangers_and_those_who_left_look_like_a_wrong_pin(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    with refused(Refusal.WRONG_PIN):
        sessions.sign_in(store, site, 999, here, PIN, now)
    with store.write() as session:
        rows.change(session, tables.staff, who, 1, {"left_on": site.local(now).date()}, by=None, at=now)
    with refused(Refusal.WRONG_PIN):
        sessions.sign_in(store, site, who, here, PIN, now)


def test_a_tap_changes_who_acts_until_that_person_idled(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    with store.write() as session:
        assert sessions.step_in(session, site, who, here, now) is None
    sessions.sign_in(store, site, who, here, PIN, now)
    with store.write() as session:
        assert sessions.step_in(session, site, who, here, now + timedelta(minutes=5))
        late = now + timedelta(minutes=6) + IDLE
        assert sessions.step_in(session, site, who, here, late) is None


@pytest.mark.parametrize("role", ["manager", "production"])
def test_some_roles_are_never_stepped_into_without_a_pin(
    store: Store, site: Site, now: datetime, role: str
) -> None:
    who, here = hire(store, site, now, roles=("guide", role)), device(store, site, now)
    sessions.sign_in(store, site, who, here, PIN, now)
    with store.write() as session:
        assert sessions.step_in(session, site, who, here, now) is None


def test_signing_out_ends_stepping_in_on_this_device_alone(store: Store, site: Site, now: datetime) -> None:
    who = hire(store, site, now)
    here, there = device(store, site, now), device(store, site, now, "other")
    for one in (here, there):
        sessions.sign_in(store, site, who, one, PIN, now)
    with store.write() as session:
        sessions.sign_out(session, who, here, now)
        assert sessions.may_step_in(session, here, now) == []
        assert sessions.may_step_in(session, there, now) == [(who, "Ana")]


def test_who_is_around_acts_by_a_tap_or_after_idling_by_their_pin(
    store: Store, site: Site, now: datetime
) -> None:
    ana, eva = hire(store, site, now), hire(store, site, now, "Eva", ("manager",))
    hire(store, site, now, "Zoe")  # works here and has not signed in
    here = device(store, site, now)
    for one in (ana, eva):
        sessions.sign_in(store, site, one, here, PIN, now)
    with store.read() as session:
        assert sessions.signed_in_people(session, here, now) == [
            sessions.SignedInPerson(ana, "Ana", True),
            sessions.SignedInPerson(eva, "Eva", False),
        ]
        idle = sessions.signed_in_people(session, here, now + IDLE, ("guide",))
        assert idle == [sessions.SignedInPerson(ana, "Ana", False)]
        assert sessions.signed_in_people(session, here, now + SHIFT) == []


def test_old_tries_and_sign_ins_are_forgotten(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    sessions.sign_in(store, site, who, here, PIN, now)
    with store.write() as session:
        sessions.forget(session, now + sessions.KEPT + timedelta(seconds=1))
        for table in (tables.sign_ins, tables.sessions):
            assert session.scalar(select(func.count()).select_from(table)) == 0


def test_no_token_is_kept(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    token = sessions.sign_in(store, site, who, here, PIN, now)
    with store.read() as session:
        kept = session.scalars(select(tables.sessions.c.token_hash)).all()
    assert len(kept) == 1
    assert token not in kept[0]


@EACH_DATABASE
def test_a_checked_pin_is_remembered_for_the_shift_even_after_signing_out(
    tablet: Screen, site_store: Store, clock: Clock
) -> None:
    tablet.sign_in(1, "985203")
    clock.pass_s(5)
    with site_store.read() as session:
        assert not sign_ins_at(session, 1, 1, clock())
    tablet.sign_in(1, PIN)
    began = clock()
    clock.pass_s(60)
    tablet.post("/staff/sign-out", page="/staff/")
    with site_store.read() as session:
        assert sign_ins_at(session, 1, 1, clock() - timedelta(seconds=1))
        assert not sign_ins_at(session, 1, 1, began - timedelta(seconds=1))
        assert not sign_ins_at(session, 1, 1, clock())
        assert not sign_ins_at(session, 1, 2, clock())
        assert not sign_ins_at(session, 1, 1, clock() + SHIFT)


def test_how_long_a_sign_in_lasts_and_a_try_counts() -> None:
    assert (timedelta(hours=1), timedelta(hours=12)) == (IDLE, SHIFT)
    assert (timedelta(days=1), timedelta(days=3)) == (COUNTED, KEPT)


def enrolled(store: Store, site: Site, now: datetime, name: str = "tablet") -> tuple[int, str]:
    """Enrol a device and return its id and the token of its cookie."""
    with store.write() as session:
        made = enrol(session, site, new_code(session, site, name, "tablet", "main", now), now)
    return made.id, made.token


def known(
    store: Store, site: Site, device_token: str, person_token: str, now: datetime
) -> tuple[str | None, str | None]:
    """Return the names of device and person that two cookies stand for."""
    with store.read() as session:
        here, person = recognise(session, site, device_token, person_token, now)
    return here and here.name, person and person.name


def test_two_cookies_stand_for_a_device_and_the_person_signed_in_there(
    store: Store, site: Site, now: datetime
) -> None:
    here, cookie = enrolled(store, site, now)
    _there, other_cookie = enrolled(store, site, now, "other")
    ana, bo = hire(store, site, now, roles=("guide", "bar")), hire(store, site, now, "Bo", ("bar",))
    as_ana = sessions.sign_in(store, site, ana, here, PIN, now)
    as_bo = sessions.sign_in(store, site, bo, here, PIN, now)
    assert known(store, site, cookie, as_ana, now) == ("tablet", "Ana")
    assert known(store, site, cookie, as_bo, now) == ("tablet", "Bo")
    assert known(store, site, cookie, "", now) == ("tablet", None)
    assert known(store, site, other_cookie, as_ana, now) == ("other", None)  # signed in elsewhere
    assert known(store, site, "", as_ana, now) == (None, None)
    with store.read() as session:
        device, person = recognise(session, site, cookie, as_ana, now)
    assert device == Device(here, "tablet", "tablet", "main")
    assert person == sessions.Person(ana, "Ana", frozenset({"guide", "bar"}), ("en",), now, now)
    assert (person.has("bar", "manager"), person.has("manager")) == (True, False)


@pytest.mark.parametrize(
    ("seen_after", "asked_after", "still"),
    [
        (timedelta(0), IDLE - timedelta(seconds=1), True),
        (timedelta(0), IDLE, False),
        (SHIFT - timedelta(minutes=2), SHIFT - timedelta(seconds=1), True),
        (SHIFT - timedelta(minutes=2), SHIFT, False),
    ],
)
def test_a_sign_in_ends_after_an_hour_unused_and_with_the_shift(
    store: Store, site: Site, now: datetime, seen_after: timedelta, asked_after: timedelta, still: bool
) -> None:
    here, cookie = enrolled(store, site, now)
    token = sessions.sign_in(store, site, hire(store, site, now), here, PIN, now)
    with store.write() as session:
        sessions.note_seen(session, site, token, now + seen_after)
    assert known(store, site, cookie, token, now + asked_after) == ("tablet", "Ana" if still else None)


def test_a_page_opened_by_one_person_keeps_no_other_signed_in(
    store: Store, site: Site, now: datetime
) -> None:
    here, cookie = enrolled(store, site, now)
    tokens = [
        sessions.sign_in(store, site, hire(store, site, now, name), here, PIN, now) for name in ("Ana", "Bo")
    ]
    with store.write() as session:
        sessions.note_seen(session, site, tokens[0], now + timedelta(minutes=30))
    assert [known(store, site, cookie, token, now + IDLE)[1] for token in tokens] == ["Ana", None]


def test_who_left_is_not_recognised_from_that_day_on(store: Store, site: Site, now: datetime) -> None:
    here, cookie = enrolled(store, site, now)
    who = hire(store, site, now)
    token = sessions.sign_in(store, site, who, here, PIN, now)
    for revision, (days, name) in enumerate(((1, "Ana"), (0, None)), 1):
        left = site.local(now).date() + timedelta(days=days)
        with store.write() as session:
            rows.change(session, tables.staff, who, revision, {"left_on": left}, by=None, at=now)
        assert known(store, site, cookie, token, now) == ("tablet", name)


def test_a_checked_pin_counts_for_its_person_and_device_in_the_shift_before(
    store: Store, site: Site, now: datetime
) -> None:
    who, other = hire(store, site, now), hire(store, site, now, "Bo")
    (here, _), (there, _) = enrolled(store, site, now), enrolled(store, site, now, "other")
    sessions.check_pin(store, site, who, here, PIN, now)
    second = timedelta(seconds=1)
    with store.read() as session:
        asked = [now - second, now, now + SHIFT - second, now + SHIFT]
        assert [bool(sign_ins_at(session, who, here, at)) for at in asked] == [False, True, True, False]
        assert not sign_ins_at(session, who, there, now)
        assert not sign_ins_at(session, other, here, now)


def test_only_a_persons_own_waits_are_lifted_and_a_right_pin_stays_known(
    store: Store, site: Site, now: datetime
) -> None:
    ana, bo, here = hire(store, site, now), hire(store, site, now, "Bo"), device(store, site, now)
    sessions.check_pin(store, site, ana, here, PIN, now)
    for who in (ana, bo):
        with refused(Refusal.WRONG_PIN):
            sessions.check_pin(store, site, who, here, WRONG, now + timedelta(seconds=1))
    with store.write() as session:
        waits.lift_waits(session, [ana], now + timedelta(seconds=1), by=bo)
        assert sign_ins_at(session, ana, here, now)
    sessions.check_pin(store, site, ana, here, PIN, now + timedelta(seconds=1))
    with refused(Refusal.MUST_WAIT):
        sessions.check_pin(store, site, bo, here, PIN, now + timedelta(seconds=1))


def test_wrong_pins_of_yesterday_ask_for_no_wait(store: Store, site: Site, now: datetime) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    for n in range(12):
        with refused(Refusal.WRONG_PIN):
            sessions.check_pin(store, site, who, here, WRONG, now + timedelta(minutes=16 * n))
    last = now + timedelta(minutes=16 * 11)
    with refused(Refusal.MUST_WAIT) as raised:
        sessions.check_pin(store, site, who, here, PIN, last + timedelta(seconds=899.5))
    assert raised.value.facts == {"seconds": 1}
    with refused(Refusal.MUST_WAIT) as raised:
        sessions.check_pin(store, site, who, here, PIN, last + timedelta(seconds=1))
    assert raised.value.facts == {"seconds": 899}  # a whole number of seconds is not rounded up
    sessions.check_pin(store, site, who, here, PIN, last + COUNTED)


def test_tries_and_sign_ins_are_kept_as_long_as_they_may_be_asked_for(
    store: Store, site: Site, now: datetime
) -> None:
    who, here = hire(store, site, now), device(store, site, now)
    sessions.sign_in(store, site, who, here, PIN, now)

    def kept(at: datetime) -> list[int]:
        with store.write() as session:
            sessions.forget(session, at)
            each = (tables.sign_ins, tables.sessions)
            return [session.scalar(select(func.count()).select_from(table)) or 0 for table in each]

    second = timedelta(seconds=1)
    assert kept(now + SHIFT) == [1, 1]
    assert kept(now + SHIFT + second) == [1, 0]
    assert kept(now + KEPT) == [1, 0]
    assert kept(now + KEPT + second) == [0, 0]


def test_stepping_in_does_not_lengthen_the_shift(store: Store, site: Site, now: datetime) -> None:
    (here, cookie), who = enrolled(store, site, now), hire(store, site, now)
    sessions.sign_in(store, site, who, here, PIN, now)
    later = now + timedelta(minutes=59)
    with store.write() as session:
        token = sessions.step_in(session, site, who, here, later)
        assert sessions.step_in(session, site, 999, here, later) is None
    assert token is not None
    with store.write() as session:
        sessions.note_seen(session, site, token, now + SHIFT - timedelta(minutes=1))
    assert known(store, site, cookie, token, now + SHIFT - timedelta(seconds=1)) == ("tablet", "Ana")
    assert known(store, site, cookie, token, now + SHIFT) == ("tablet", None)


@EACH_DATABASE
def test_a_wrong_pin_counts_for_less_than_a_day(site_store: Store, site: Site, now: datetime) -> None:
    who, here = hire(site_store, site, now), device(site_store, site, now)
    for at in (now, now + COUNTED - timedelta(seconds=1)):
        with refused(Refusal.WRONG_PIN):
            sessions.check_pin(site_store, site, who, here, WRONG, at)
    sessions.check_pin(site_store, site, who, here, PIN, now + COUNTED)  # one wrong PIN: a second's wait


@EACH_DATABASE
def test_a_sign_in_forgets_what_is_kept_no_longer(site_store: Store, site: Site, now: datetime) -> None:
    who, here = hire(site_store, site, now), device(site_store, site, now)
    for at in (now, now + KEPT + timedelta(seconds=1)):
        sessions.sign_in(site_store, site, who, here, PIN, at)
    with site_store.read() as session:
        for table in (tables.sign_ins, tables.sessions):
            assert session.scalar(select(func.count()).select_from(table)) == 1


def test_a_proof_holds_for_its_person_device_and_the_time_of_its_sign_in(
    store: Store, site: Site, now: datetime
) -> None:
    who, other = hire(store, site, now), hire(store, site, now, "Bo")
    (here, _), (there, _) = enrolled(store, site, now), enrolled(store, site, now, "other")
    for staff_id, device_id in ((who, here), (other, here), (who, there)):
        sessions.sign_in(store, site, staff_id, device_id, PIN, now)
    proof, hour = entry_proof(site, who, here, now), timedelta(hours=1)
    with store.write() as session:
        sessions.sign_out(session, who, here, now + hour)
    cases = {
        "in it": (who, here, now + hour / 2, proof),
        "before": (who, here, now - hour, proof),
        "after": (who, here, now + hour, proof),
        "another person": (other, here, now + hour / 2, proof),
        "another device": (who, there, now + hour / 2, proof),
        "no proof": (who, here, now + hour / 2, ""),
        "of another sign-in": (who, here, now + hour / 2, entry_proof(site, who, here, now + hour)),
    }
    with store.read() as session:
        proven = [name for name, case in cases.items() if is_proven(session, site, *case)]
    assert proven == ["in it"]


def test_a_new_pin_ends_what_a_sign_in_elsewhere_proves(store: Store, site: Site, now: datetime) -> None:
    who, (here, _) = hire(store, site, now), enrolled(store, site, now)
    sessions.sign_in(store, site, who, here, PIN, now)
    reset = now + timedelta(minutes=5)
    with store.write() as session:
        set_pin(session, who, "x", reset, temporary=True, by=who)
    with store.read() as session:
        assert sign_ins_at(session, who, here, now)
        assert not sign_ins_at(session, who, here, reset)
