"""The set-up list: glasses, mats, bottles and all else that the bookings of a day already say."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from kiosk.entries.errors import Malformed
from kiosk.figures.service.bottles import OpenBottles
from kiosk.site.settings import RouteStop, WelcomeDrink
from kiosk.store import rows
from kiosk.store.engine import Store
from kiosk.store.tables.tours import bookings, tours
from kiosk.tours.setup.lines import SetUp, set_up, tick
from tests.costs import cost
from tests.kept import kept_content
from tests.tasting_room import OUNCE_UL, QUARTER_UL, Tasting, tasting_site

EIGHT = [("blanco", QUARTER_UL), ("anejo", QUARTER_UL)] * 4
ROUTE = (RouteStop("mill", 15, 4, 30), RouteStop("tasting-room", 40, 2, 30))


@pytest.fixture
def bus(store: Store, now: datetime, tmp_path: Path) -> Tasting:
    """A flight of eight samples for a party of 20 and two checked guests, one of them without alcohol."""
    begun = Tasting.begun(store, tasting_site(tmp_path, route=ROUTE), now, flight=EIGHT, welcome="welcome")
    begun.check(begun.guests[0])
    begun.mark(begun.guests[1], "no_alcohol")
    with store.write() as session:
        party = {"tour_id": begun.tour, "size": 20, "language": "es", "allergens": ["coconut"]}
        rows.insert(session, bookings, {**party, "access_needs": "A wheelchair"})
    return begun


def _list(
    tasting: Tasting, levels: dict[tuple[str, str], OpenBottles] | None = None, *, with_needs: bool = True
) -> SetUp:
    stops, day = kept_content(tasting.site).stops, tasting.site.service_day(tasting.now)
    with tasting.store.read() as session:
        return set_up(session, tasting.site, stops, day, tasting.now, levels or {}, with_needs=with_needs)


def _amounts(listed: SetUp) -> dict[tuple[str, str], int]:
    return {(line.kind, line.of): line.amount for line in listed.tours[0].lines}


def test_22_guests_and_8_samples_need_176_glasses_and_water(bus: Tasting) -> None:
    amounts = _amounts(_list(bus))
    assert amounts["glasses", ""] == 176
    assert amounts["water", ""] == 22
    assert amounts["stickers", ""] == 22


def test_mats_allergens_and_what_is_worn_are_on_the_list(bus: Tasting) -> None:
    amounts = _amounts(_list(bus))
    assert (amounts["mats", "es"], amounts["mats", "en"]) == (21, 1)
    assert amounts["allergen", "coconut"] == 1
    assert amounts["ear_plugs", "mill"] == 23  # a pair for the guide
    assert amounts["closed_shoes", "mill"] == 22
    assert amounts["without_alcohol", ""] == 1


@pytest.mark.parametrize(
    ("served", "drinks"),
    [
        (WelcomeDrink.SMALL, {"welcome": 21, "welcome_free": 1}),
        (WelcomeDrink.AFTER, {"welcome": 21, "welcome_free": 1}),
        (WelcomeDrink.ALCOHOL_FREE, {"welcome_free": 22}),
    ],
)
def test_the_welcome_drinks_are_of_the_kinds_that_the_house_serves(
    bus: Tasting, served: WelcomeDrink, drinks: dict[str, int]
) -> None:
    bus.site = replace(bus.site, welcome_drink=served)
    amounts = _amounts(_list(bus))
    assert {kind: n for (kind, _of), n in amounts.items() if kind.startswith("welcome")} == drinks


def test_bottles_are_counted_less_what_is_left_in_open_ones(bus: Tasting) -> None:
    def bottles(levels: dict[tuple[str, str], OpenBottles]) -> dict[str, tuple[int, int, int]]:
        of_day = (line for line in _list(bus, levels).sums if line.kind == "bottles")
        return {line.of: (line.amount, line.needed_ml, line.left_ml) for line in of_day}

    # 21 who drink x 4 quarter-ounces = 621.1 mL
    assert bottles({})["main blanco"] == (1, 622, 0)
    assert bottles({("main", "blanco"): OpenBottles(621.2, 750)})["main blanco"] == (0, 622, 621)
    assert bottles({("main", "blanco"): OpenBottles(100.0, 200)})["main blanco"] == (3, 622, 100)
    assert "main jengibre" not in bottles({})  # the welcome is served without alcohol
    bus.site = replace(bus.site, welcome_drink=WelcomeDrink.AFTER)
    assert bottles({})["main jengibre"] == (1, 622, 0)  # 21 x 1 fl oz
    assert OUNCE_UL == 4 * QUARTER_UL + 1


def test_needs_are_left_out_for_a_person_who_may_not_see_them(bus: Tasting) -> None:
    assert _list(bus).tours[0].needs.access == ("A wheelchair",)
    assert _list(bus, with_needs=False).tours[0].needs.access == ()


def test_a_line_is_ticked_and_unticked_and_only_one_of_the_list(bus: Tasting) -> None:
    code = f"{bus.tour}:glasses"
    for n, done in enumerate((True, True, False, True)):
        with bus.store.write() as session:
            listed = _list(bus)
            tick(session, listed, code, done=done, origin=bus.origin(f"{n:032x}"), now=bus.now)
        bus.now += timedelta(seconds=1)
        assert (code in _list(bus).done) is done
    with pytest.raises(Malformed), bus.store.write() as session:
        tick(session, _list(bus), "9:glasses", done=True, origin=bus.origin(), now=bus.now)


def test_an_empty_day_has_an_empty_list(bus: Tasting) -> None:
    bus.now += timedelta(days=3)
    listed = _list(bus)
    assert (listed.tours, listed.sums) == ((), ())


def test_sixty_tours_of_900_guests_take_the_queries_of_one(bus: Tasting) -> None:
    with cost(bus.store) as one:
        _list(bus)
    values = {"route": "main", "languages": ["es"], "room": "main", "places": 22, "private": False}
    with bus.store.write() as session:
        for n in range(59):
            starts_at = bus.now + timedelta(minutes=5 * n)
            tour_id = rows.insert(session, tours, {**values, "letter": f"B{n}", "starts_at": starts_at})
            rows.insert(session, bookings, {"tour_id": tour_id, "size": 15, "language": "en"})
    with cost(bus.store) as many:
        assert len(_list(bus).tours) == 60
    assert len(many.queries) == len(one.queries) <= 8, many.queries
