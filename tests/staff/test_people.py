"""Names that look alike are refused beside the one that is there.

Six digits, no trivial ones, kept under the site's secret.

Who works here.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from pathlib import Path
from threading import Thread

import pytest
from sqlalchemy import select

from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import (
    add_person,
    change_roles,
    check_shape,
    deactivate,
    has_people,
    hash_pin,
    is_staff,
    is_trivial,
    matches,
    members,
    name_order,
    require_distinct,
    roles_of,
)
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from tests.actors import CHEAP, PIN, hire, small_site
from tests.staff.refusals import refused

ALIKE = ["teo", "TEO", "Téo", "Ｔeo", "Тео", "Τεο", "T-e.o", "Te o", "Te\u200do"]
OTHERS = ["Leo", "Teo M.", "Theo", "Teo 2"]


@pytest.mark.parametrize("name", ALIKE)
def test_a_name_that_looks_like_another_is_refused(name: str) -> None:
    with refused(Refusal.NAME_ALIKE):
        require_distinct(name, ["Ana", "Teo"])


@pytest.mark.parametrize("name", OTHERS)
def test_a_name_that_differs_in_a_letter_or_a_number_is_taken(name: str) -> None:
    require_distinct(name, ["Ana", "Teo"])


def test_numbered_devices_differ() -> None:
    require_distinct("tablet 1", ["tablet 2", "tablet 11"])


def test_the_very_same_name_is_taken_already() -> None:
    with refused(Refusal.NAME_TAKEN):
        require_distinct("Teo", ["Teo"])


@pytest.mark.parametrize("pin", ["", "12345", "1234567", "12345a", "１２３４５６", "40 917", "-40291"])
def test_a_pin_is_six_digits(pin: str) -> None:
    with refused(Refusal.PIN_FORMAT):
        check_shape(pin)


TRIVIAL = [
    "000000",
    "111111",
    "123456",
    "654321",
    "890123",
    "210987",
    "135791",
    "121212",
    "123123",
    "112112",
    "122112",
]


@pytest.mark.parametrize("pin", TRIVIAL)
def test_what_anybody_would_try_first_is_refused(pin: str) -> None:
    with refused(Refusal.PIN_TRIVIAL):
        check_shape(pin)


def test_nothing_is_kept_of_what_may_not_be_a_pin(tmp_path: Path) -> None:
    for pin, refusal in (("12345", Refusal.PIN_FORMAT), ("123456", Refusal.PIN_TRIVIAL)):
        with refused(refusal):
            hash_pin(pin, small_site(tmp_path), CHEAP)


@pytest.mark.parametrize("tried", [100_000, pytest.param(1_000_000, marks=pytest.mark.deep)])
def test_few_pins_are_lost_to_that_rule(tried: int) -> None:
    pins = random.Random(6).sample(range(1_000_000), tried)
    assert 0.001 < sum(is_trivial(f"{pin:06}") for pin in pins) / tried < 0.006


def test_only_the_right_pin_matches(tmp_path: Path) -> None:
    site = small_site(tmp_path)
    kept = hash_pin(PIN, site, CHEAP)
    assert matches(PIN, kept, site)
    assert not matches("402918", kept, site)
    assert PIN not in kept


def test_a_stolen_hash_is_worth_nothing_without_the_sites_secret(tmp_path: Path) -> None:
    kept = hash_pin(PIN, small_site(tmp_path), CHEAP)
    assert not matches(PIN, kept, small_site(tmp_path, secret=bytes(32)))


def test_the_houses_own_hash_is_argon2id_of_64_mib(tmp_path: Path) -> None:
    assert hash_pin(PIN, small_site(tmp_path)).startswith("$argon2id$v=19$m=65536,t=3,p=1$")


def test_people_are_listed_by_name_with_their_roles_in_order(store: Store, site: Site, now: datetime) -> None:
    with store.read() as session:
        assert not has_people(session)
    hire(store, site, now, "Élida", ("manager", "guide"))
    hire(store, site, now, "Fermín", ("bar",))
    hire(store, site, now, "Celia", ("trainee",))
    with store.read() as session:
        assert has_people(session)
        assert [(one.name, one.roles) for one in members(session, site, now)] == [
            ("Celia", ("trainee",)),
            ("Élida", ("guide", "manager")),
            ("Fermín", ("bar",)),
        ]


def test_names_sort_as_in_spanish() -> None:
    assert sorted(["Nuño", "Ñico", "Nuria", "Oto", "Óscar", "Nzo"], key=name_order) == [
        "Nuño", "Nuria", "Nzo", "Ñico", "Óscar", "Oto",
    ]  # fmt: skip
    assert name_order("o\u0300\u036f") == "o"  # the first and the last of the accents that combine


def test_who_left_is_listed_no_more(store: Store, site: Site, now: datetime) -> None:
    who = hire(store, site, now)
    today = site.local(now).date()
    with store.write() as session:
        rows.change(session, staff, who, 1, {"left_on": today + timedelta(days=1)}, by=None, at=now)
        assert len(members(session, site, now)) == 1
        assert members(session, site, now + timedelta(days=1)) == []


REFUSED = {
    "no name": (("  ", ["guide"], ["en"]), Refusal.NAME_MISSING),
    "taken": (("Ana", ["guide"], ["en"]), Refusal.NAME_TAKEN),
    "no role": (("Bo", [], ["en"]), Refusal.UNKNOWN_CHOICE),
    "strange role": (("Bo", ["guide", "owner"], ["en"]), Refusal.UNKNOWN_CHOICE),
    "strange language": (("Bo", ["guide"], ["fr"]), Refusal.UNKNOWN_CHOICE),
    "no language": (("Bo", ["guide"], []), Refusal.UNKNOWN_CHOICE),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_person_who_cannot_be_added_is_not_added(
    store: Store, site: Site, now: datetime, case: str
) -> None:
    hire(store, site, now)
    (name, roles, languages), refusal = REFUSED[case]
    with refused(refusal), store.write() as session:
        add_person(session, site, name, "x", roles, languages, now)
    with store.read() as session:
        assert len(members(session, site, now)) == 1


def test_who_was_given_which_roles_by_whom_is_kept_without_a_name(
    store: Store, site: Site, now: datetime
) -> None:
    boss = hire(store, site, now, "Boss", ("manager",))
    with store.write() as session:
        add_person(session, site, "Bo", "x", ["bar", "guide"], ["en"], now, by=boss)
        kept = session.execute(select(history.c.before, history.c.by).order_by(history.c.id.desc())).first()
    assert kept is not None
    assert (kept.before, kept.by) == ({"given": ["guide", "bar"]}, boss)


def roles(store: Store, site: Site, now: datetime) -> dict[str, tuple[str, ...]]:
    """Return everybody's roles."""
    with store.read() as session:
        return {one.name: one.roles for one in members(session, site, now)}


def test_changed_roles_count_and_the_former_ones_are_kept(store: Store, site: Site, now: datetime) -> None:
    boss, bea = hire(store, site, now, "Boss", ("manager",)), hire(store, site, now, "Bea", ("bar",))
    with store.write() as session:
        change_roles(session, site, bea, ["manager", "bar"], now, by=boss)
    assert roles(store, site, now)["Bea"] == ("bar", "manager")
    h = history.c
    with store.read() as session:
        kept = session.execute(select(h.before, h.by).where(h.row_id == bea).order_by(h.revision)).all()
    assert [(row.before["given"], row.by) for row in kept] == [(["bar"], None), (["bar", "manager"], boss)]


@pytest.mark.parametrize(
    ("who", "given", "refusal"),
    [
        ("Bea", [], Refusal.UNKNOWN_CHOICE),
        ("Bea", ["owner"], Refusal.UNKNOWN_CHOICE),
        ("Boss", ["guide"], Refusal.LAST_MANAGER),
        ("nobody", ["guide"], Refusal.NO_SUCH_PERSON),
    ],
)
def test_roles_that_cannot_be_given_change_nothing(
    store: Store, site: Site, now: datetime, who: str, given: list[str], refusal: Refusal
) -> None:
    people = (("Boss", "manager"), ("Bea", "bar"))
    ids = {name: hire(store, site, now, name, (role,)) for name, role in people}
    before = roles(store, site, now)
    with refused(refusal), store.write() as session:
        change_roles(session, site, ids.get(who, 999), given, now, by=ids["Boss"])
    assert roles(store, site, now) == before


def test_who_leaves_is_gone_today_and_the_only_manager_stays(store: Store, site: Site, now: datetime) -> None:
    boss, bea = hire(store, site, now, "Boss", ("manager",)), hire(store, site, now, "Bea", ("bar",))
    with store.write() as session:
        deactivate(session, site, bea, now, by=boss)
    assert list(roles(store, site, now)) == ["Boss"]
    for who, refusal in ((boss, Refusal.LAST_MANAGER), (bea, Refusal.NO_SUCH_PERSON)):
        with refused(refusal), store.write() as session:
            deactivate(session, site, who, now, by=boss)


@pytest.mark.parametrize(
    ("given", "named"), [([], "—"), (["owner", "cook", "guide"], "cook, owner"), (["guide"], None)]
)
def test_a_role_that_is_none_is_named_with_those_there_are(
    sqlite_store: Store, site: Site, now: datetime, given: list[str], named: str | None
) -> None:
    with sqlite_store.write() as session:
        if named is None:
            assert add_person(session, site, "Bo", "x", given, ["en"], now)
            return
        with refused(Refusal.UNKNOWN_CHOICE) as raised:
            add_person(session, site, "Bo", "x", given, ["en"], now)
    assert raised.value.facts == {"found": named, "allowed": "guide, bar, trainee, production, manager"}


def test_a_name_is_kept_in_one_line_of_eighty_signs(sqlite_store: Store, site: Site, now: datetime) -> None:
    with sqlite_store.write() as session:
        add_person(session, site, " Ana   María ", "x", ["bar"], ["en"], now)
        add_person(session, site, "x" * 81, "x", ["bar"], ["en"], now)
    assert list(roles(sqlite_store, site, now)) == ["Ana María", "x" * 80]


def test_the_roles_of_a_person_are_theirs_alone(sqlite_store: Store, site: Site, now: datetime) -> None:
    boss, bea = hire(sqlite_store, site, now, "Boss", ("manager",)), hire(sqlite_store, site, now, "Bea")
    with sqlite_store.read() as session:
        assert [roles_of(session, one) for one in (boss, bea, 999)] == [{"manager"}, {"guide"}, set()]


def test_every_change_of_roles_is_kept_as_one_more(sqlite_store: Store, site: Site, now: datetime) -> None:
    boss, bea = hire(sqlite_store, site, now, "Boss", ("manager",)), hire(sqlite_store, site, now, "Bea")
    with sqlite_store.write() as session:
        for given in (["bar"], ["guide"]):
            change_roles(session, site, bea, given, now, by=boss)
        h = history.c
        kept = session.execute(select(h.revision, h.act, h.at).where(h.row_id == bea).order_by(h.id)).all()
    assert [tuple(row) for row in kept] == [(n, "roles", now) for n in (1, 2, 3)]


def test_who_leaves_left_today_with_a_reason_in_the_history(
    sqlite_store: Store, site: Site, now: datetime
) -> None:
    boss, bea = hire(sqlite_store, site, now, "Boss", ("manager",)), hire(sqlite_store, site, now, "Bea")
    with sqlite_store.write() as session:
        rows.change(session, staff, bea, 1, {"name": "Bea M."}, by=boss, at=now)
        deactivate(session, site, bea, now, by=boss)
        left_on = session.scalar(select(staff.c.left_on).where(staff.c.id == bea))
        kept = session.execute(select(history).where(history.c.why == "left")).one()
    assert left_on == site.local(now).date()
    assert (kept.row_id, kept.by, kept.at) == (bea, boss, now)


def test_two_managers_who_take_the_role_from_each_other_at_once_leave_one(
    postgresql_store: Store, site: Site, now: datetime
) -> None:
    ana, boss = (hire(postgresql_store, site, now, name, ("manager",)) for name in ("Ana", "Boss"))
    refusals: list[Refusal] = []

    def demote_ana() -> None:
        try:
            with postgresql_store.write() as session:
                change_roles(session, site, ana, ["bar"], now, by=boss)
        except StaffError as error:
            refusals.append(error.reason)

    other = Thread(target=demote_ana)
    with postgresql_store.write() as session:
        change_roles(session, site, boss, ["bar"], now, by=ana)
        other.start()
        other.join(0.3)  # time enough to be done, were nothing in its way
    other.join()
    assert refusals == [Refusal.LAST_MANAGER]
    assert roles(postgresql_store, site, now) == {"Ana": ("manager",), "Boss": ("bar",)}


def test_a_person_who_left_is_still_one_of_the_staff(sqlite_store: Store, site: Site, now: datetime) -> None:
    boss, bea = hire(sqlite_store, site, now, "Boss", ("manager",)), hire(sqlite_store, site, now, "Bea")
    with sqlite_store.write() as session:
        deactivate(session, site, bea, now, by=boss)
        assert [is_staff(session, one) for one in (boss, bea, 999, None)] == [True, True, False, False]
