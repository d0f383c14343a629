"""The form of a flight: what is typed, in the order of its places."""

from __future__ import annotations

from sqlalchemy import select

from kiosk.store.tables.tours import tours
from kiosk.tasting.flights import form
from kiosk.tasting.flights.form import TypedRow
from kiosk.tasting.flights.planning import FlightDraft, FlightFaults
from tests.tasting_room import HALF_UL, QUARTER_UL
from tests.words.readers import ENGLISH

FORM = {
    "name": "  Four  small ",
    "welcome": "welcome",
    "place-1": "2",
    "glass-1": "blanco",
    "size-1": str(QUARTER_UL),
    "place-2": "1",
    "glass-2": "anejo",
    "size-2": str(HALF_UL),
    "place-3": "",
    "glass-3": "",
    "size-3": "",
    "place-4": "",
    "glass-4": "welcome",
    "size-4": str(HALF_UL),
}


def test_samples_stand_in_the_order_of_their_places_and_blank_rows_are_left_out(tasting):
    sent = form.read_form(FORM)
    assert form.draft_of(sent, tasting.site) == FlightDraft(
        "Four small", "welcome", (("anejo", HALF_UL), ("blanco", QUARTER_UL), ("welcome", None))
    )


def test_nonsense_in_a_field_becomes_a_fault_and_no_error(tasting):
    sent = form.read_form({"name": "x", "place-1": "first", "glass-1": "blanco", "size-1": "²"})
    assert form.draft_of(sent, tasting.site).samples == (("blanco", 0),)


def test_what_is_wrong_stands_beside_its_row(tasting):
    faults = FlightFaults(
        {"name": ("Give it a name of at most {most} characters.", {"most": 60}), 2: ("Choose one.", {})}
    )
    again = form.with_faults(form.read_form(FORM), faults, ENGLISH)
    assert [row.wrong for row in again.rows[:3]] == ["", "Choose one.", ""]
    assert again.wrong == {"name": "Give it a name of at most 60 characters.", "2": "Choose one."}


def test_a_kept_flight_comes_back_with_room_for_more(tasting):
    with tasting.store.read() as session:
        kept = form.form_of_flight(session, session.scalar(select(tours.c.flight_id)), "short")
    assert kept.rows[:2] == (
        TypedRow("1", "blanco", str(QUARTER_UL)),
        TypedRow("2", "anejo", str(QUARTER_UL)),
    )
    assert (len(kept.rows), kept.rows[4], kept.welcome) == (6, TypedRow(), "")


def test_what_may_be_chosen_are_the_houses_measures_glasses_and_welcomes(tasting):
    with tasting.store.read() as session:
        offered = form.choices(session, tasting.site, ENGLISH)
    assert [value for value, _ in offered["sizes"]] == ["", str(QUARTER_UL), str(HALF_UL)]
    assert [value for value, _ in offered["glasses"]][-2:] == ["ponche-sin", "welcome"]
    assert offered["welcomes"] == [("", "no welcome drink"), ("welcome", "Welcome")]
