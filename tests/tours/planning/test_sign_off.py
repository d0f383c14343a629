"""A guide leads in the languages on record; of others the planner says so, which is recorded once."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.staff.errors import StaffError
from kiosk.staff.sign_offs import sign_offs_of, withdraw
from kiosk.store.tables.staff import sign_offs
from kiosk.tours.planning.tours import LEADS, TourDraft, TourFaults, add_tour, change_tour, languages_led
from tests.actors import Clock, running, signed_in, text_of
from tests.tasting_room import Tasting


def _draft(tasting: Tasting) -> TourDraft:
    start = tasting.now + timedelta(hours=2)
    return TourDraft(start, ("en", "es"), tasting.ana, None, "main", 8, {"places": "8"})


def test_a_guide_without_the_language_is_refused_until_the_planner_says_so(tasting: Tasting) -> None:
    who, draft = {"by": tasting.bea, "at": tasting.now}, _draft(tasting)
    with tasting.store.write() as session, pytest.raises(TourFaults) as refused:
        add_tour(session, tasting.site, draft, **who)
    assert refused.value.faults["may_lead"][1] == {"missing": ["es"]}
    with tasting.store.write() as session:
        add_tour(session, tasting.site, replace(draft, may_lead=True), **who)
    with tasting.store.write() as session:
        tour = add_tour(session, tasting.site, replace(draft, may_lead=True), **who)
        change_tour(session, tasting.site, tour, replace(draft, places=9), 1, **who)
    with tasting.store.read() as session:
        (signed,) = session.execute(select(sign_offs)).all()
        assert languages_led(session, tasting.now.date())[tasting.ana] == {"en", "es"}
    assert (signed.staff_id, signed.language, signed.skill, signed.by, signed.at) == (
        tasting.ana,
        "es",
        LEADS,
        tasting.bea,
        tasting.now,
    )


def test_a_sign_off_is_withdrawn_and_stays_on_record_with_who_did_it(tasting: Tasting) -> None:
    who, draft = {"by": tasting.bea, "at": tasting.now}, _draft(tasting)
    with tasting.store.write() as session:
        tour = add_tour(session, tasting.site, replace(draft, may_lead=True), **who)
        (given,) = sign_offs_of(session, tasting.ana)
    later = tasting.now + timedelta(minutes=5)
    for _press in range(2):
        with tasting.store.write() as session:
            withdraw(session, tasting.ana, given.key, by=tasting.ana, device_id=tasting.tablet, at=later)
    with tasting.store.write() as session:
        assert len(session.execute(select(sign_offs)).all()) == 2
        assert languages_led(session, tasting.now.date())[tasting.ana] == {"en"}
        (ended,) = sign_offs_of(session, tasting.ana)
        change_tour(session, tasting.site, tour, replace(draft, places=9), 1, **who)  # it keeps its guide
    assert (ended.given_by, ended.withdrawn_by, ended.withdrawn_at) == ("Bea", "Ana", later)
    with tasting.store.write() as session, pytest.raises(TourFaults):
        add_tour(session, tasting.site, draft, **who)
    with tasting.store.write() as session:
        add_tour(session, tasting.site, replace(draft, may_lead=True), **who)
        assert languages_led(session, tasting.now.date())[tasting.ana] == {"en", "es"}
    with tasting.store.write() as session, pytest.raises(StaffError):
        withdraw(session, tasting.bea, given.key, by=tasting.bea, device_id=None, at=later)


def test_a_manager_withdraws_a_sign_off_on_the_page_of_the_person(paged: Tasting, now: datetime) -> None:
    who = {"by": paged.bea, "at": paged.now}
    with paged.store.write() as session:
        add_tour(session, paged.site, replace(_draft(paged), may_lead=True), **who)
    app = running(paged.site, paged.store, Clock(now))
    manager = signed_in(app, paged.store, paged.site, now, "manager", "Dora")
    path = f"/staff/people/{paged.ana}"
    page = manager.get(path)
    assert "Leads tours in this language: Español Given by Bea" in text_of(page)
    (key,) = re.findall(r'name="key" value="(\w+)"', page.get_data(as_text=True))
    done = manager.post(path, act="withdraw", key=key)
    assert (done.status_code, done.location) == (303, path)
    assert "Withdrawn by Dora" in text_of(manager.get(path))
    assert manager.post(path, act="withdraw", key="0" * 32).status_code == 404
