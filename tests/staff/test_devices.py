"""A one-time code becomes a device, once."""

from __future__ import annotations

from datetime import datetime, timedelta
from threading import Thread

import pytest
from sqlalchemy import select

from kiosk.site.settings import Site
from kiosk.staff.devices import (
    ALPHABET,
    CODE_LIFE,
    enrol,
    enrol_with_first_manager,
    find_instrument,
    list_devices,
    new_code,
    new_instrument,
    revoke,
)
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import has_people
from kiosk.store.engine import Store
from kiosk.store.errors import Stale
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import devices
from tests.actors import PIN, Screen
from tests.small_app import EACH_DATABASE
from tests.staff.refusals import refused


def code_for(store: Store, site: Site, now: datetime, name: str = "tablet", kind: str = "tablet") -> str:
    """Make a code."""
    with store.write() as session:
        return new_code(session, site, name, kind, "main", now)


def test_a_code_is_used_once(store: Store, site: Site, now: datetime) -> None:
    code = code_for(store, site, now)
    with store.write() as session:
        enrol(session, site, code, now)
    with refused(Refusal.CODE_REFUSED), store.write() as session:
        enrol(session, site, code, now)


def test_a_code_lives_half_an_hour(store: Store, site: Site, now: datetime) -> None:
    code = code_for(store, site, now)
    with refused(Refusal.CODE_REFUSED), store.write() as session:
        enrol(session, site, code, now + CODE_LIFE)
    with store.write() as session:
        assert enrol(session, site, code, now + CODE_LIFE - timedelta(seconds=1))


@pytest.mark.parametrize("typed", ["", "AAAA-AAAA", "🌱"])
def test_a_mistyped_code_is_refused(store: Store, site: Site, now: datetime, typed: str) -> None:
    code_for(store, site, now)
    with refused(Refusal.CODE_REFUSED), store.write() as session:
        enrol(session, site, typed, now)


def test_a_code_may_be_typed_in_small_letters_without_its_dash(
    store: Store, site: Site, now: datetime
) -> None:
    code = code_for(store, site, now)
    assert set(code.replace("-", "")) <= set(ALPHABET)
    with store.write() as session:
        assert enrol(session, site, code.lower().replace("-", " "), now)


def test_a_new_code_for_the_same_name_ends_the_old_one(store: Store, site: Site, now: datetime) -> None:
    old, new = code_for(store, site, now), code_for(store, site, now)
    with refused(Refusal.CODE_REFUSED), store.write() as session:
        enrol(session, site, old, now)
    with store.write() as session:
        enrol(session, site, new, now)
    with refused(Refusal.NAME_TAKEN):
        code_for(store, site, now)


@pytest.mark.parametrize(
    ("name", "kind", "room", "refusal"),
    [
        ("", "tablet", "main", Refusal.NAME_MISSING),
        ("x", "toaster", "main", Refusal.UNKNOWN_CHOICE),
        ("x", "tablet", "attic", Refusal.UNKNOWN_CHOICE),
    ],
)
def test_a_device_has_a_name_a_known_kind_and_room(
    store: Store, site: Site, now: datetime, name: str, kind: str, room: str, refusal: Refusal
) -> None:
    with refused(refusal), store.write() as session:
        new_code(session, site, name, kind, room, now)


def test_a_device_shut_out_by_two_managers_is_shut_out_once(store: Store, site: Site, now: datetime) -> None:
    code = code_for(store, site, now)
    with store.write() as session:
        enrol(session, site, code, now)
        (seen,) = list_devices(session)
        revoke(session, seen.id, seen.revision, now, by=None)
    with pytest.raises(Stale), store.write() as session:
        revoke(session, seen.id, seen.revision, now, by=None)
    with store.read() as session:
        assert [one.state for one in list_devices(session)] == ["revoked"]


@EACH_DATABASE
def test_a_device_that_is_shut_out_sees_no_staff_page(
    tablet: Screen, site_store: Store, now: datetime
) -> None:
    assert tablet.get("/staff/sign-in").status_code == 200
    with site_store.write() as session:
        (seen,) = list_devices(session)
        revoke(session, seen.id, seen.revision, now, by=None)
    assert tablet.get("/staff/sign-in").status_code == 404


def test_neither_code_nor_token_is_kept(store: Store, site: Site, now: datetime) -> None:
    code = code_for(store, site, now)
    with store.write() as session:
        token = enrol(session, site, code, now).token
    with store.read() as session:
        kept = str([session.execute(select(table)).all() for table in (devices, history)])
    assert "tablet" in kept
    assert not [text for text in (token, code, code.replace("-", "")) if text in kept]


def test_differing_pins_leave_neither_device_nor_manager(store: Store, site: Site, now: datetime) -> None:
    with store.write() as session:
        code = new_code(session, site, "first", "tablet", None, now)
    fields = {"code": code, "name": "Ana", "pin": PIN, "language": "en"}
    with refused(Refusal.PINS_DIFFER), store.write() as session:
        enrol_with_first_manager(session, site, **fields, pin_again="402918", now=now)
    with store.read() as session:
        assert not has_people(session)
        assert [one.state for one in list_devices(session)] == ["waiting"]
    with store.write() as session:
        enrol_with_first_manager(session, site, **fields, pin_again=PIN, now=now)
        assert has_people(session)


def test_an_instrument_has_a_name_of_its_own_and_a_token_that_opens_nothing_else(
    store: Store, site: Site, now: datetime
) -> None:
    with store.write() as session:
        scale = new_instrument(session, site, "  still   house scale ", now)
    with store.read() as session:
        found = find_instrument(session, site, scale.token)
        (listed,) = list_devices(session)
        assert find_instrument(session, site, "other") is None
    assert found is not None
    assert (found.id, found.name, found.kind, found.room) == (
        scale.id,
        "still house scale",
        "instrument",
        None,
    )
    assert (listed.state, listed.enrolled_at, listed.revision) == ("enrolled", now, 1)
    for name, refusal in (("  ", Refusal.NAME_MISSING), ("still house scale", Refusal.NAME_TAKEN)):
        with refused(refusal), store.write() as session:
            new_instrument(session, site, name, now)
    with store.write() as session:
        revoke(session, scale.id, 1, now, by=None)
        assert find_instrument(session, site, scale.token) is None


def test_a_tablets_token_is_no_instruments(store: Store, site: Site, now: datetime) -> None:
    code = code_for(store, site, now)
    with store.write() as session:
        tablet = enrol(session, site, code, now)
        assert find_instrument(session, site, tablet.token) is None


def test_a_code_is_eight_signs_in_two_groups_and_half_an_hour_long(
    store: Store, site: Site, now: datetime
) -> None:
    first, second = code_for(store, site, now).split("-")
    assert (len(first), len(second)) == (4, 4)
    assert timedelta(minutes=30) == CODE_LIFE
    assert len(ALPHABET) == len(set(ALPHABET)) == 30


def test_a_name_is_kept_to_sixty_signs(store: Store, site: Site, now: datetime) -> None:
    code_for(store, site, now, name="n" * 70)
    with store.read() as session:
        assert [one.name for one in list_devices(session)] == ["n" * 60]


def test_a_revoked_device_may_be_enrolled_again_under_its_name(
    store: Store, site: Site, now: datetime
) -> None:
    with store.write() as session:
        first = enrol(session, site, new_code(session, site, "door", "tablet", "main", now), now)
        revoke(session, first.id, 2, now, by=None)
        again = enrol(session, site, new_code(session, site, "door", "wall", None, now), now)
        (listed,) = list_devices(session)
    assert again.id == first.id
    assert (listed.kind, listed.room, listed.state) == ("wall", None, "enrolled")


def test_devices_are_listed_by_state_and_name(store: Store, site: Site, now: datetime) -> None:
    with store.write() as session:
        for name in ("d", "b", "c", "a"):
            code = new_code(session, site, name, "tablet", None, now)
            if name != "b":
                enrol(session, site, code, now)
        gone = next(one for one in list_devices(session) if one.name == "a")
        revoke(session, gone.id, gone.revision, now, by=None)
        assert [(one.name, one.state) for one in list_devices(session)] == [
            ("c", "enrolled"),
            ("d", "enrolled"),
            ("b", "waiting"),
            ("a", "revoked"),
        ]


def test_a_code_typed_on_two_devices_at_once_enrols_one(
    postgresql_store: Store, site: Site, now: datetime
) -> None:
    code = code_for(postgresql_store, site, now)
    refusals: list[Refusal] = []

    def enrol_too() -> None:
        try:
            with postgresql_store.write() as session:
                enrol(session, site, code, now)
        except StaffError as error:
            refusals.append(error.reason)

    other = Thread(target=enrol_too)
    with postgresql_store.write() as session:
        enrol(session, site, code, now)
        other.start()
        other.join(0.3)  # time enough to look at the code, which is not used yet
    other.join()
    assert refusals == [Refusal.CODE_REFUSED]
