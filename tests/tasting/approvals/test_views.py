"""The pages of what may be poured, over HTTP."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from kiosk.store.tables.production import cask_events
from kiosk.store.tables.tasting import approvals
from tests.actors import PIN, text_of
from tests.tasting.approvals.test_approving import record_cask, record_lot

PLACE = "/staff/approvals"
NEW = f"{PLACE}/new"


@pytest.fixture
def store(sqlite_store):
    """One kind of database: a page is no other on the other."""
    return sqlite_store


@pytest.fixture
def tasting(tasting):
    """A lot lies bottled that nobody has approved."""
    record_lot(tasting, product="reserva")
    return tasting


def typed(tasting, **changes):
    day = tasting.site.service_day(tasting.now).isoformat()
    fields = {"code": "R-9", "kind": "bottled", "product": "reserva", "source": "BL-09", "room": "main"}
    fields |= {"abv_percent": "45.5", "abv_basis": "laboratory", "document": "paper 7", "from_on": day}
    return {**fields, "pin": PIN, **changes}


def test_a_managers_form_approves_and_the_list_tells_it(manager, tasting, sqlite_store):
    assert manager.post(NEW, **typed(tasting)).status_code == 303
    with sqlite_store.read() as session:
        row = session.execute(select(approvals).where(approvals.c.code == "R-9")).one()
    assert (row.abv_e2, row.abv_basis, row.document, row.rooms) == (4550, "laboratory", "paper 7", ["main"])
    shown = text_of(manager.get(PLACE))
    assert "Reserva R-9" in shown
    assert "45.5 % vol" in shown
    assert "Signed by Dora" in shown


def test_the_former_addresses_lead_to_the_present_ones(manager):
    assert manager.get("/staff/releases").location == PLACE
    assert manager.get("/staff/releases/new").location == NEW


def test_nothing_is_approved_under_a_wrong_pin(manager, tasting, sqlite_store):
    answer = manager.post(NEW, **typed(tasting, pin="999998"))
    assert answer.status_code == 403
    assert 'value="BL-09"' in answer.get_data(as_text=True)
    with sqlite_store.read() as session:
        assert session.execute(select(approvals).where(approvals.c.code == "R-9")).first() is None


def test_a_number_or_a_day_that_cannot_be_read_is_told_beside_its_field(manager, tasting):
    answer = manager.post(NEW, **typed(tasting, abv_percent="strong", from_on="2026-02-30", density="x"))
    assert answer.status_code == 422
    html = answer.get_data(as_text=True)
    assert set(re.findall(r'id="e-(\w+)"', html)) == {"abv_percent", "from_on", "density"}
    assert "not a day of the calendar" in html


@pytest.mark.parametrize("temperature", ["warm", "300"])
def test_a_temperature_that_cannot_be_is_told_beside_its_field(manager, tasting, temperature):
    answer = manager.post(NEW, **typed(tasting, temperature=temperature))
    assert answer.status_code == 422
    assert 'id="e-temperature"' in answer.get_data(as_text=True)


def test_a_cask_sample_is_signed_and_written_on_its_cask_by_one_form(manager, tasting, sqlite_store):
    record_cask(tasting)
    taken = {"kind": "cask_sample", "source": "C-1", "taken": "16.907", "temperature": "68"}  # 500 mL, 20 °C
    assert manager.post(NEW, **typed(tasting, abv_percent="59.5", **taken)).status_code == 303
    with sqlite_store.read() as session:
        event = session.execute(select(cask_events)).one()
    assert (event.kind, event.volume20_ml, event.alcohol_ml) == ("sample", 500, 298)
    assert "cask sample · C-1" in text_of(manager.get(PLACE))


def test_a_form_sent_twice_asks_for_another_code(manager, tasting):
    manager.post(NEW, **typed(tasting))
    again = manager.post(NEW, **typed(tasting))
    assert (again.status_code, 'id="e-code"' in again.get_data(as_text=True)) == (422, True)


def test_strength_not_known_is_told_as_at_most(manager, tasting):
    manager.post(NEW, **typed(tasting, abv_percent="", abv_basis="not_known"))
    assert "at most 45.0 % vol" in text_of(manager.get(PLACE))


def test_a_last_day_that_is_near_is_marked(manager, tasting):
    day = tasting.site.service_day(tasting.now).isoformat()
    assert "Ends soon" not in text_of(manager.get(PLACE))
    manager.post(NEW, **typed(tasting, until_on=day))
    assert "Ends soon" in text_of(manager.get(PLACE))


def test_an_ended_approval_is_told_with_who_and_why(manager, tasting, sqlite_store):
    manager.post(NEW, **typed(tasting))
    with sqlite_store.read() as session:
        signed = session.scalar(select(approvals.c.id).where(approvals.c.code == "R-9"))
    ending = f"{PLACE}/{signed}/end"
    assert manager.post(ending, page=PLACE, revision=1).status_code == 422
    assert manager.post(ending, page=PLACE, revision=1, why="cloudy").status_code == 303
    now_poured, _, over = text_of(manager.get(PLACE)).partition(" Ended approvals ")
    assert "R-9" not in now_poured
    assert "Dora: cloudy" in over
    assert manager.post(ending, page=PLACE, revision=1, why="again").status_code == 409


def test_the_bar_reads_the_list_and_signs_nothing(bar, tasting):
    shown = bar.get(PLACE).get_data(as_text=True)
    assert "Blanco" in shown
    assert "/staff/approvals/new" not in shown
    assert "End now" not in shown
    assert bar.post(NEW, page=PLACE, **typed(tasting)).status_code == 403
