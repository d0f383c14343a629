"""A flight's plan in the reader's words."""

from __future__ import annotations

import pytest

from kiosk.figures.drinks import Kind, Limit, parse_volume_ul
from kiosk.site.settings import Measure, WelcomeDrink
from kiosk.tasting.flights.plan import TastingSetup, plan_of_flight
from kiosk.tasting.flights.text import LIGHTER, WELCOMES, flight_text
from tests.tasting_room import HALF_UL, QUARTER_UL, Tasting, tasting_site
from tests.words.readers import ENGLISH, SPANISH

DAY = Limit("day_volume", Kind.VOLUME, "day", parse_volume_ul("1.5 fl oz", round_up=True))


@pytest.fixture
def told(sqlite_store, now, tmp_path):
    """Plan a flight and tell it."""

    def tell(flight, *, guests=22, words=ENGLISH, named=(), welcome=None, begins=None, **changes):
        site = tasting_site(tmp_path, limits=(DAY,), **changes)
        approved = ("blanco", "anejo", "reserva", "jengibre")
        Tasting.begun(sqlite_store, site, now, flight=flight, welcome=welcome, approved=approved)
        setup = TastingSetup(guests, "main", begins=begins)
        with sqlite_store.read() as session:
            plan = plan_of_flight(session, site, 1, setup, now)
        return flight_text(plan, named, site, words)

    return tell


def samples(n, product="blanco", volume_ul=QUARTER_UL):
    return [(product, volume_ul)] * n


def test_eight_samples_for_twenty_two_guests_take_176_glasses(told):
    # the trade's own example: 22 guests x 8 samples
    one = told(samples(8), welcome="welcome")
    assert (one.flight.tasting_glasses, one.flight.welcome_glasses) == (176, 22)


def test_a_flight_that_fits_needs_no_remedy(told):
    one = told(samples(6))
    assert (one.flight.plan.fits, one.remedies, one.drinks) == (True, (), "1.0")


def test_the_largest_pour_is_told_as_a_measure_of_the_house(told):
    one = told(samples(4, volume_ul=HALF_UL))
    assert not one.flight.plan.fits
    assert one.remedies == (
        "It fits with every sample poured in 0.25 fl oz.",
        "In the sizes planned, leave out: Blanco.",
    )
    assert one.glasses[3].why == ("Not enough spirit remaining today for this pour.",)


def test_where_no_measure_is_small_enough_samples_are_named_to_leave_out(told):
    half = (Measure("half-ounce", HALF_UL),)
    one = told([*samples(3, "blanco", HALF_UL), ("anejo", HALF_UL)], measures=half)
    assert one.remedies == (
        "No measure of the house is small enough for all of it.",
        "With every sample in 0.50 fl oz, leave out: Anejo.",
        "In the sizes planned, leave out: Anejo.",
    )


def test_a_welcome_drink_says_when_it_is_served_and_what_it_holds(told):
    one = told(
        samples(2), welcome="welcome", welcome_drink=WelcomeDrink.SMALL, named=[(7, ["milk"]), (8, ["fish"])]
    )
    first = one.glasses[0]
    assert (first.name, first.when) == ("Welcome", WELCOMES[WelcomeDrink.SMALL])
    assert (first.size, first.strength.replace("\u00a0", " "), first.twin) == (
        "0.25 fl oz",
        "30.0 % vol",
        "Welcome Without",
    )
    assert (first.contains.names, first.contains.on_us_list) == (["milk", "sulfites"], ["milk"])
    assert first.named_by == ("Guest 7: milk",)
    assert one.alternatives == ("Ponche-Sin", "Welcome Without")


def test_a_flight_is_told_in_spanish(told):
    one = told(samples(7), words=SPANISH, welcome="welcome", named=[(7, ["sulphites"])])
    assert one.glasses[0].when == "Bebida de bienvenida, sin alcohol, al llegar"
    assert one.glasses[0].named_by == ("Visitante 7: sulfitos",)
    assert one.remedies[-1].endswith("Blanco.")


@pytest.mark.parametrize(
    ("flight", "why"),
    [
        ([("reserva", QUARTER_UL), ("blanco", QUARTER_UL)], "stronger"),
        ([("blanco", QUARTER_UL), ("reserva", QUARTER_UL)], ""),
    ],
)
def test_a_flight_that_goes_downhill_is_warned_of(told, flight, why):
    assert told(flight).glasses[0].lighter == LIGHTER.get(why, "")


def test_the_last_pour_is_told_where_a_time_is_given(told, now):
    evening = now.replace(hour=21, minute=55)  # 17:55 here; the house pours until 18:00
    one = told(samples(6), begins=evening)
    assert one.too_late
    assert one.last_pour == "6:22\u00a0PM"  # 6 x (22 x 8 s) and 5 x 2 min of talk


def test_too_few_sealed_bottles_are_marked(told):
    assert told(samples(6)).flight.bottles[0].short
