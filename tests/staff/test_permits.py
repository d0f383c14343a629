"""Permits of staff: seen by a manager, ending on their day, and no birth date anywhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from kiosk.staff import permits as held
from kiosk.staff.errors import Refusal
from kiosk.staff.people import members
from kiosk.staff.permits import NO_END
from kiosk.store.errors import Stale
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import permits, staff
from tests.actors import hire, small_site
from tests.staff.refusals import refused


@pytest.fixture
def site(tmp_path):
    made = small_site(tmp_path)
    return replace(made, policy=replace(made.policy, server_age=21, server_permit="class-12"))


@pytest.fixture
def ana(store, site, now):
    return hire(store, site, now, "Ana", ("manager",))


@pytest.fixture
def bea(store, site, now):
    return hire(store, site, now, "Bea", ("bar",))


def add(store, site, now, person, by, *, kind="class-12", number="44", first=0, last=365):
    day = site.service_day(now)
    days = (day + timedelta(days=first), day + timedelta(days=last))
    with store.write() as session:
        return held.add_permit(session, person, kind, number, days, by=by, at=now)


def listed(store, site, now):
    with store.read() as session:
        return held.list_permits(session, site.service_day(now))


def lacking(store, site, now):
    with store.read() as session:
        day = site.service_day(now)
        return held.names_lacking_permit(
            site.policy, members(session, site, now), held.list_permits(session, day), day
        )


def test_a_permit_is_listed_and_who_saw_it_is_kept_without_its_number(store, site, now, ana, bea):
    add(store, site, now, bea, ana)
    (one,) = listed(store, site, now)
    assert (one.name, one.kind, one.number) == ("Bea", "class-12", "44")
    with store.read() as session:
        seen = session.execute(select(history).where(history.c.table_name == "permits")).one()
    assert (seen.act, seen.by, seen.before, seen.revision) == ("seen", ana, {}, 0)  # before any change


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"kind": ""}, Refusal.KIND_MISSING),
        ({"number": ""}, Refusal.NUMBER_MISSING),
        ({"first": 2, "last": 1}, Refusal.DAYS_REVERSED),
        ({"person": 999}, Refusal.PERSON_MISSING),
    ],
)
def test_what_is_missing_is_told_and_nothing_kept(store, site, now, ana, bea, changes, error):
    asked = {"person": bea, **changes}
    with refused(error):
        add(store, site, now, asked.pop("person"), ana, **asked)
    assert listed(store, site, now) == []


def test_a_permit_without_its_days_is_refused(store, site, now, ana, bea):
    with store.write() as session, refused(Refusal.DAYS_REVERSED):
        held.add_permit(session, bea, "class-12", "44", (None, date(2030, 1, 1)), by=ana, at=now)


@pytest.mark.parametrize(("last", "soon"), [(0, True), (29, True), (30, False), (-1, False)])
def test_what_ends_within_thirty_days_is_marked(store, site, now, ana, bea, last, soon):
    add(store, site, now, bea, ana, first=-400, last=last)
    assert listed(store, site, now)[0].ends_soon(site.service_day(now)) is soon


def test_those_who_may_not_pour_are_named_until_permit_and_age_are_seen(store, site, now, ana, bea):
    assert lacking(store, site, now) == ["Ana", "Bea"]
    add(store, site, now, bea, ana)
    assert lacking(store, site, now) == ["Ana", "Bea"]
    with store.write() as session:
        held.record_age_proof(session, site, bea, by=ana, at=now)
    assert lacking(store, site, now) == ["Ana"]
    assert lacking(store, site, now + timedelta(days=366)) == ["Ana", "Bea"]


def test_nobody_lacks_what_the_rules_do_not_ask(store, tmp_path, now):
    site = small_site(tmp_path)
    bea = hire(store, site, now, "Bea", ("bar",))
    assert lacking(store, site, now) == []
    with store.write() as session, refused(Refusal.NO_AGE_LIMIT):
        held.record_age_proof(session, site, bea, by=bea, at=now)


def test_of_the_age_only_the_day_of_looking_is_kept(store, site, now, ana, bea):
    with store.write() as session:
        held.record_age_proof(session, site, bea, by=ana, at=now)
    with store.read() as session:
        row = session.execute(select(permits)).one()
    assert (row.kind, row.number, row.valid_until) == ("age-21", "", NO_END)
    assert row.valid_from == site.service_day(now)
    assert listed(store, site, now)[0].age == 21


@pytest.mark.parametrize(
    ("kind", "age"), [("age-21", 21), ("class-30", 0), ("age-", 0), ("age", 0), ("30", 0)]
)
def test_only_a_document_of_the_age_shows_an_age(store, site, now, ana, bea, kind, age):
    add(store, site, now, bea, ana, kind=kind)
    assert listed(store, site, now)[0].age == age


def test_a_permit_taken_back_holds_no_more_and_says_why(store, site, now, ana, bea):
    permit, day = add(store, site, now, bea, ana, first=-10), site.service_day(now)

    def take_back(revision, why):
        with store.write() as session:
            held.revoke_permit(session, permit, revision, day, by=ana, at=now, why=why)

    with refused(Refusal.REASON_MISSING):
        take_back(1, "")
    take_back(1, "withdrawn by the office")
    with pytest.raises(Stale):
        take_back(1, "again")
    (one,) = listed(store, site, now)
    assert (one.is_valid(day), one.is_valid(day - timedelta(days=1))) == (False, True)


def test_somebody_who_left_is_listed_no_more_and_gets_no_permit(store, site, now, ana, bea):
    add(store, site, now, bea, ana)
    with store.write() as session:
        gone = site.service_day(now) - timedelta(days=1)
        session.execute(staff.update().where(staff.c.id == bea).values(left_on=gone))
    assert listed(store, site, now) == []
    with refused(Refusal.PERSON_MISSING):
        add(store, site, now, bea, ana)


def test_a_permit_may_be_of_one_day(store, site, now, ana, bea):
    add(store, site, now, bea, ana, first=0, last=0)
    (one,) = listed(store, site, now)
    day = site.service_day(now)
    assert (one.valid_from, one.valid_until) == (day, day)
    assert [one.is_valid(day + timedelta(days=n)) for n in (-1, 0, 1)] == [False, True, False]


def test_permits_are_listed_by_name_and_kind_and_ended_ones_last(store, site, now, ana, bea):
    for person, kind, last in (
        (bea, "class-12", -1),
        (bea, "food", 5),
        (bea, "class-12", 9),
        (ana, "food", 0),
    ):
        add(store, site, now, person, ana, kind=kind, first=-9, last=last)
    assert [(one.name, one.kind) for one in listed(store, site, now)] == [
        ("Ana", "food"),
        ("Bea", "class-12"),
        ("Bea", "food"),
        ("Bea", "class-12"),
    ]
