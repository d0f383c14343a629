"""Waits that double for one person on one device, and sharing a tablet."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta

import pytest
from sqlalchemy import func, select

from kiosk.site.settings import Site
from kiosk.staff import sessions
from kiosk.staff.devices import enrol, new_code
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.sessions import IDLE, SHIFT, signed_in
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables import staff as tables
from tests.actors import PIN, Clock, Screen, hire
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
    assert sessions.wait_s(failures) == seconds


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
        sessions.sign_out(session, who, here)
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


def test_a_checked_pin_is_remembered_for_the_shift_even_after_signing_out(
    tablet: Screen, sqlite_store: Store, clock: Clock
) -> None:
    tablet.sign_in(1, "985203")
    clock.pass_s(5)
    with sqlite_store.read() as session:
        assert not signed_in(session, 1, 1, clock())
    tablet.sign_in(1, PIN)
    tablet.post("/staff/sign-out", page="/staff/")
    with sqlite_store.read() as session:
        assert signed_in(session, 1, 1, clock())
        assert not signed_in(session, 1, 2, clock())
        assert not signed_in(session, 1, 1, clock() + SHIFT)
