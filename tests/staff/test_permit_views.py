"""The page of permits over HTTP."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.store.ledgers import new_key
from kiosk.store.tables.staff import permits
from kiosk.tasting.rules import policy
from tests.actors import Clock, running, signed_in, text_of
from tests.tasting_room import Tasting, tasting_site

PLACE = "/staff/permits"


@pytest.fixture
def site(tmp_path):
    made = tasting_site(tmp_path)
    return replace(made, policy=replace(made.policy, server_age=21, server_permit="class-12"))


@pytest.fixture
def tasting(sqlite_store, site, now):
    begun = Tasting.begun(sqlite_store, site, now)
    begun.check(begun.guests[0])
    with sqlite_store.write() as session:
        policy.confirm(session, site, key=new_key(), by=begun.ana, at=now)
    return begun


@pytest.fixture
def manager(tasting, sqlite_store, site, now):
    return signed_in(running(site, sqlite_store, Clock(now)), sqlite_store, site, now, "manager", "Dora")


def typed(tasting, person, **changes):
    day = tasting.site.service_day(tasting.now)
    days = {"valid_from": day.isoformat(), "valid_until": (day + timedelta(days=20)).isoformat()}
    return {"person": person, "kind": "class-12", "number": "C-44", **days, **changes}


def test_with_permit_and_age_seen_on_the_page_somebody_pours(manager, tasting):
    assert "May not pour today Ana, Bea, Dora" in text_of(manager.get(PLACE))
    assert tasting.pour(tasting.guests[0], by=tasting.bea).reasons == ("server_age", "server_permit")
    assert manager.post(PLACE, **typed(tasting, tasting.bea)).status_code == 303
    assert manager.post(f"{PLACE}/age", page=PLACE, person=tasting.bea).status_code == 303
    shown = text_of(manager.get(PLACE))
    assert "May not pour today Ana, Dora " in shown
    assert "class-12 C-44" in shown
    assert "21 or older, ID checked" in shown
    assert "Ends within 30 days Bea: class-12" in shown
    assert tasting.pour(tasting.guests[0], by=tasting.bea).outcome == "poured"


@pytest.mark.parametrize(
    ("field", "value"), [("kind", ""), ("number", ""), ("valid_until", "2020-01-01"), ("person", "999")]
)
def test_what_is_missing_is_told_beside_its_field(manager, tasting, field, value):
    answer = manager.post(PLACE, **{**typed(tasting, tasting.bea), field: value})
    assert answer.status_code == 422
    assert f'id="e-{field}"' in answer.get_data(as_text=True)
    assert "No permit is on record." in text_of(answer)


def test_a_permit_is_taken_back_with_a_reason(manager, tasting):
    manager.post(PLACE, **typed(tasting, tasting.bea))
    back = re.search(r'action="(/staff/permits/\d+/take-back)"', manager.get(PLACE).get_data(as_text=True))[1]
    assert manager.post(back, page=PLACE, revision=1).status_code == 422
    assert manager.post(back, page=PLACE, revision=1, why="withdrawn").status_code == 303
    assert "May not pour today Ana, Bea, Dora" in text_of(manager.get(PLACE))
    assert manager.post(back, page=PLACE, revision=1, why="again").status_code == 409


@pytest.mark.parametrize("revision", [{}, {"revision": ""}])
def test_a_permit_is_taken_back_as_it_was_looked_at(manager, tasting, revision):
    manager.post(PLACE, **typed(tasting, tasting.bea))
    with tasting.store.read() as session:
        permit = session.scalar(select(permits.c.id))
    back = f"{PLACE}/{permit}/take-back"
    assert manager.post(back, page=PLACE, why="withdrawn", **revision).status_code == 409


def test_nobody_is_of_age_by_a_form_that_names_nobody(manager, tasting):
    assert manager.post(f"{PLACE}/age", page=PLACE).status_code == 422
    nobody = typed(tasting, tasting.bea)
    del nobody["person"]
    assert manager.post(PLACE, **nobody).status_code == 422
    with tasting.store.read() as session:
        assert session.execute(select(permits)).all() == []
