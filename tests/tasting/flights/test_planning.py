"""Which sample comes next, and how the welcome drink is served.

Flights planned, changed with their former selves kept, archived, given to tours.
"""

from __future__ import annotations

import pytest
from sqlalchemy import func, select

from kiosk.site.settings import WelcomeDrink
from kiosk.store.errors import NoSuchRow, Stale
from kiosk.store.tables.shared import history
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import flight_items, flights, tours
from kiosk.tasting.flights import planning
from kiosk.tasting.flights.planning import (
    FlightArchived,
    FlightDraft,
    FlightFaults,
    Item,
    item,
    items,
    next_item,
)
from tests.tasting_room import HALF_UL, OUNCE_UL, QUARTER_UL, Tasting, tasting_site

FLIGHT = (Item(1, "blanco", 7393), Item(2, "anejo", 7393), Item(3, "blanco", 14_786))


@pytest.mark.parametrize(
    ("had", "declined", "pos"),
    [
        ([], [], 1),
        (["blanco"], [], 2),
        (["anejo"], [], 1),
        (["blanco", "anejo"], [], 3),
        (["blanco", "blanco"], [], 2),
        (["blanco"], ["anejo"], 3),
        (["reserva"], [], 1),
        (["blanco", "anejo", "blanco"], [], None),
    ],
)
def test_the_first_sample_neither_had_nor_declined_comes_next(had, declined, pos):
    found = next_item(FLIGHT, had, declined)
    assert (found.pos if found else None) == pos


def test_a_flight_is_read_in_order_and_no_flight_is_empty(tasting):
    with tasting.store.read() as session:
        assert [item.product for item in items(session, tasting.site, 1)] == ["blanco", "anejo"]
        assert items(session, tasting.site, None) == ()


@pytest.mark.parametrize(
    ("served", "glass", "volume_ul"),
    [
        (WelcomeDrink.ALCOHOL_FREE, "welcome-sin", 0),
        (WelcomeDrink.SMALL, "welcome", QUARTER_UL),
        (WelcomeDrink.AFTER, "welcome", OUNCE_UL),
    ],
)
def test_the_welcome_drink_is_served_as_the_site_says(store, now, tmp_path, served, glass, volume_ul):
    site = tasting_site(tmp_path, welcome_drink=served)
    begun = Tasting.begun(store, site, now, welcome="welcome")
    with store.read() as session:
        first, *rest = items(session, site, 1)
    assert (first.pos, first.glass, first.volume_ul) == (0, glass, volume_ul)
    assert [one.glass for one in rest] == ["blanco", "anejo"]
    assert begun.room().context.flight[0] == first


def test_a_mixed_glass_later_in_the_flight_is_served_whole(tmp_path):
    site = tasting_site(tmp_path)  # alcohol-free on arrival
    assert item(site, 3, "welcome", None) == Item(3, "jengibre", OUNCE_UL, "welcome", "welcome-sin")


MIXED = (Item(0, "jengibre", OUNCE_UL, "welcome", "welcome-sin"), Item(1, "jengibre", QUARTER_UL))


@pytest.mark.parametrize(
    ("had", "pos"),
    [
        ([], 0),
        (["welcome"], 1),
        (["welcome-sin"], 1),  # the twin in its place
        (["jengibre"], 0),  # neat from the same bottle is another glass
        (["welcome", "jengibre"], None),
    ],
)
def test_a_mixed_glass_is_done_with_its_twin_and_not_with_its_spirit(had, pos):
    found = next_item(MIXED, had)
    assert (found.pos if found else None) == pos


TWO = FlightDraft("two and a welcome", "welcome", (("blanco", QUARTER_UL), ("welcome", None)))


def saved(tasting, wanted, **changes):
    with tasting.store.write() as session:
        return planning.save_flight(session, tasting.site, wanted, by=tasting.ana, at=tasting.now, **changes)


def planned(tasting, flight_id):
    with tasting.store.read() as session:
        return [(one.pos, one.glass, one.volume_ul) for one in items(session, tasting.site, flight_id)]


def raw(tasting, flight_id):
    i = flight_items.c
    with tasting.store.read() as session:
        wanted = select(i.pos, i.product, i.volume_ul).where(i.flight_id == flight_id).order_by(i.pos)
        return [tuple(row) for row in session.execute(wanted)]


def test_a_flight_is_planned_in_order_with_its_welcome_first(tasting):
    made = saved(tasting, TWO)
    assert raw(tasting, made) == [(0, "welcome", None), (1, "blanco", QUARTER_UL), (2, "welcome", None)]


def test_a_change_keeps_the_former_flight_whole_and_touches_no_pour(tasting):
    tasting.pour(tasting.guests[0], "blanco")
    with tasting.store.read() as session:
        before = session.execute(select(pours)).mappings().all()
        flight_id = session.scalar(select(tours.c.flight_id))
    former = raw(tasting, flight_id)
    saved(tasting, FlightDraft("short", None, (("jengibre", HALF_UL),)), flight_id=flight_id, revision=1)
    assert planned(tasting, flight_id) == [(1, "jengibre", HALF_UL)]
    h = history.c
    with tasting.store.read() as session:
        assert session.execute(select(pours)).mappings().all() == before
        kept = session.execute(select(h.before, h.act, h.by).where(h.table_name == "flight_items")).all()
    assert [(k.before["pos"], k.before["product"], k.before["volume_ul"]) for k in kept] == former
    assert {(k.act, k.by) for k in kept} == {("voided", tasting.ana)}
    assert tasting.room().tiles[0].next.product == "jengibre"


def test_who_looked_at_an_older_flight_changes_nothing(tasting):
    made = saved(tasting, TWO)
    saved(tasting, TWO, flight_id=made, revision=1)
    with pytest.raises(Stale):
        saved(tasting, FlightDraft("mine", None, (("anejo", HALF_UL),)), flight_id=made, revision=1)
    assert len(raw(tasting, made)) == 3


FAULTS = [
    (FlightDraft("", None, (("blanco", QUARTER_UL),)), {"name"}),
    (FlightDraft("n" * 61, None, (("blanco", QUARTER_UL),)), {"name"}),
    (FlightDraft("short 0", None, (("blanco", QUARTER_UL),)), {"name"}),  # the tour's own is called so
    (FlightDraft("none", None, ()), {"samples"}),
    (FlightDraft("endless", None, (("blanco", QUARTER_UL),) * 13), {"samples"}),
    (FlightDraft("sizes", None, (("blanco", 7000), ("anejo", 0), ("anejo", None))), {1, 2, 3}),
    (FlightDraft("stranger", None, (("blanco", QUARTER_UL), ("vinegar", QUARTER_UL))), {2}),
    (FlightDraft("cold", "blanco", (("blanco", QUARTER_UL),)), {"welcome"}),
    (FlightDraft("twin", "welcome-sin", (("blanco", QUARTER_UL),)), {"welcome"}),
    (FlightDraft("", "nothing", (("vinegar", QUARTER_UL),)), {"name", "welcome", 1}),
]


@pytest.mark.parametrize(("wanted", "fields"), FAULTS)
def test_what_is_no_flight_is_told_field_by_field_and_nothing_is_kept(tasting, wanted, fields):
    with pytest.raises(FlightFaults) as raised:
        saved(tasting, wanted)
    assert set(raised.value.faults) == fields
    with tasting.store.read() as session:
        assert session.scalar(select(func.count()).select_from(flights)) == 1


def test_a_flight_may_keep_its_name_and_hold_what_was_only_approved(tasting):
    with tasting.store.write() as session:
        tasting.approval(session, "trial-1", tasting.site.service_day(tasting.now), abv_e2=4300)
        flight_id = session.scalar(select(tours.c.flight_id))
    wanted = FlightDraft("short", None, (("trial-1", QUARTER_UL),))
    assert saved(tasting, wanted, flight_id=flight_id, revision=1) == flight_id


def test_a_archived_flight_stays_with_its_tours_and_goes_to_no_other(tasting):
    made = saved(tasting, TWO)
    with tasting.store.write() as session:
        planning.set_archived(session, made, 1, True, by=tasting.ana, at=tasting.now)
        with pytest.raises(FlightArchived):
            planning.assign_to_tour(session, made, tasting.tour, 1, by=tasting.ana, at=tasting.now)
        planning.set_archived(session, made, 2, False, by=tasting.ana, at=tasting.now)
        planning.assign_to_tour(session, made, tasting.tour, 1, by=tasting.ana, at=tasting.now)
        with pytest.raises(NoSuchRow):
            planning.assign_to_tour(session, 99, tasting.tour, 2, by=tasting.ana, at=tasting.now)
        with pytest.raises(Stale):
            planning.assign_to_tour(session, made, tasting.tour, 1, by=tasting.ana, at=tasting.now)
    assert [one.glass for one in tasting.room().context.flight] == ["welcome-sin", "blanco", "welcome"]
