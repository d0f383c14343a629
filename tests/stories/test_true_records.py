"""What cannot be true waits, what is corrected is followed, and two times in one night are asked about."""

from __future__ import annotations

import re

from tests.production.folder import FILES
from tests.stories.house import Country, House, Page, Screen

NEW = "/staff/records/new/"
HELD = "/staff/records/held"
WASH = {"wash": "w-1", "temperature_c": ""}
LOAD = {
    "code": "L-2",
    "field": "hill",
    "cut_on": "2026-06-10",
    "milled_at": "2026-06-10T09:00",
    "juice_temperature_c": "",
    "brix": "16",
}


def waiting(manager: Screen) -> int:
    """Return how many entries wait."""
    return len(set(re.findall(r"/staff/records/held/\d+", manager.get(HELD).body.decode())))


def sent(manager: Screen, name: str, **typed: str) -> Page:
    """Open a form, fill it in and send it."""
    return manager.submit(manager.get(NEW + name), **typed)


def an_own_house_s_files_go_in_without_a_question(manager: Screen) -> None:
    preview = manager.upload(manager.get("/staff/records/import"), FILES)
    assert manager.submit(preview).status == 200
    assert waiting(manager) == 0


def a_reading_that_no_wash_has_waits_and_says_why_in_both_languages(manager: Screen) -> None:
    sent(manager, "wash-reading", **WASH, at="2026-06-03T10:00", kind="gravity", value="45")
    assert "water has 1.0000" in manager.get(HELD).words
    manager.get("/language/es")
    assert "el agua tiene 1.0000" in manager.get(HELD).words
    manager.get("/language/en")
    plain = sent(manager, "wash-reading", **WASH, at="2026-06-03T10:00", kind="gravity", value="1.0310")
    assert "Recorded: Wash reading w-1." in plain.words


def cane_typed_in_tonnes_waits(manager: Screen, country: Country) -> None:
    us = country.name == "island"
    typed = {"cane_kg": "2.6" if us else "1.2", "juice_l": "169" if us else "640"}
    before = waiting(manager)
    sent(manager, "mill-load", **{**LOAD, "juice_temperature_c": "77" if us else "25"}, **typed)
    assert waiting(manager) > before
    held = manager.get(HELD).words.replace("\xa0", " ")
    assert ("US gallons (639.7" if us else "639.3 L of juice; a mill gets 0.3 L to 1.3 L out of that") in held


def codes_and_numbers_are_taken_as_they_are_typed(manager: Screen) -> None:
    taken = sent(manager, "wash-reading", **WASH, at="2026-06-03T11:00", kind="ph", value="4,4")
    assert "Recorded: Wash reading w-1." in taken.words
    unknown = sent(manager, "wash-reading", wash="W-77", at="2026-06-03T11:00", kind="ph", value="4.4")
    assert unknown.status == 422
    assert "There is no wash W-77." in unknown.words


def the_clock_of_a_house_that_changes_it_is_asked_about(manager: Screen, country: Country) -> None:
    """In the past autumn, before the wash was set: the question comes first, then what is wrong."""
    reading = {**WASH, "kind": "ph", "value": "4.4"}
    page = sent(manager, "wash-reading", **reading, at="2025-10-26T02:30")
    offered = re.findall(r'<option value="(2025-10-26[^"]*)"', page.body.decode())
    skipped = sent(manager, "wash-reading", **reading, at="2026-03-29T02:30")
    if country.name == "island":
        assert offered == []
        assert "went forward" not in skipped.words
    else:
        assert offered[1:] == ["2025-10-26 02:30+02:00", "2025-10-26 02:30+01:00"]
        assert (skipped.status, "went forward" in skipped.words) == (422, True)


def the_first_entry_of_a_record_has_its_author(manager: Screen) -> None:
    links = manager.get("/staff/records/").links
    reading = next(link for link in links if re.fullmatch(r"/staff/records/wash_readings/\d+", link))
    assert "Recorded by Rosa" in manager.get(reading).words


def test_true_records(house: House, manager: Screen, country: Country) -> None:
    an_own_house_s_files_go_in_without_a_question(manager)
    a_reading_that_no_wash_has_waits_and_says_why_in_both_languages(manager)
    cane_typed_in_tonnes_waits(manager, country)
    codes_and_numbers_are_taken_as_they_are_typed(manager)
    the_clock_of_a_house_that_changes_it_is_asked_about(manager, country)
    the_first_entry_of_a_record_has_its_author(manager)
