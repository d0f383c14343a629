"""A guide leads in the languages on record; of others the planner says so, which is recorded once."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from kiosk.store.tables.staff import sign_offs
from kiosk.tours.planning.tours import LEADS, TourDraft, TourFaults, add_tour, change_tour, languages_led
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
