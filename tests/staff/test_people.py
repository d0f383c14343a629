"""Who works here."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal
from kiosk.staff.people import add_person, change_roles, deactivate, has_people, members, name_order
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import staff
from tests.actors import hire
from tests.staff.refusals import refused


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
