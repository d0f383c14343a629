"""A house plans its weeks from an empty calendar: patterns, closed days, calls, the door, late changes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.stories.house import Country, House, Page, Screen, new_site, serve

OPENING = """
[[opening]]
days = ["tue", "wed", "thu", "fri", "sat", "sun"]
opens = 09:30:00
closes = 17:30:00

[[tickets]]
id = "estate"
names = { en = "The whole estate", es = "Toda la hacienda" }
price = 38

# The walk, in its order."""


@pytest.fixture(scope="module")
def house(country: Country, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A served house that is closed on Mondays."""
    folder: Path = tmp_path_factory.mktemp(f"planning-{country.name}") / "site"
    new_site(folder, country)
    settings = folder / "site.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("# The walk, in its order.", OPENING), encoding="utf-8")
    process, served = serve(folder)
    yield served
    process.terminate()
    process.wait(30)


def _monday(manager: Screen) -> date:
    """Return the Monday of the week after next, by the house's own calendar."""
    form = manager.get("/staff/tours/pattern").form()
    today = date.fromisoformat(form.fields["first"])
    return today + timedelta(days=14 - today.weekday())


def an_empty_week_says_where_to_begin(manager: Screen) -> None:
    week = manager.get("/staff/week")
    assert week.words.count("no tours") == 7
    assert "house closed no opening hours on this weekday" in week.words
    assert any(link.startswith("/staff/tours/pattern") for link in week.links)


def two_weeks_are_planned_as_a_pattern(manager: Screen, monday: date) -> None:
    form = manager.get("/staff/tours/pattern")
    typed = {
        "days-1": ["0", "3", "4", "5", "6"],
        "hours-1": "10, 14",
        "days-2": ["5"],
        "hours-2": "12:00",
        "language-2": "es",
        "first": monday.isoformat(),
        "last": (monday + timedelta(days=13)).isoformat(),
        "places": "8",
    }
    seen = manager.submit(form, **typed, act="preview")
    assert "18 tours will be made" in seen.words
    assert "4 fall on closed days or out of hours and are left out" in seen.words
    week = manager.submit(seen, **typed, act="record")
    assert "18 tours were planned." in week.words


def a_day_is_closed_and_has_its_people(manager: Screen, monday: date) -> None:
    sunday = monday + timedelta(days=6)
    form = manager.get(f"/staff/days/{sunday}")
    assert "2 tours are planned on this day, 0 people are booked." in form.words
    (rosa,) = re.findall(r'<option value="(\d+)">Rosa', form.body.decode())[:1]
    week = manager.submit(form, closed_why="holiday", cancel_tours="yes", first_aider=rosa, key_holder=rosa)
    assert "house closed public holiday First aid: Rosa · Keys: Rosa" in week.words


def _tours(page: Page) -> list[str]:
    return re.findall(r'name="tour" value="(\d+)"', page.body.decode())


def two_parties_call(manager: Screen, monday: date) -> tuple[str, str]:
    """Return the addresses of the first tour of Saturday and of the second booking on it."""
    saturday = monday + timedelta(days=5)
    call = manager.get(f"/staff/bookings/new?day={saturday}")
    first = _tours(call)[0]
    said = {"tour": first, "size": "5", "lead_name": "Rosa Pons", "contact": "555 0100", "language": "es"}
    group = manager.submit(call, **said, allergy_notes="wasps", voucher="K-17")
    kept = manager.get(next(link for link in group.links if re.fullmatch(r".*/bookings/\d+", link)))
    assert 'value="wasps"' in kept.body.decode()
    again = manager.submit(call, **{**said, "size": "4", "lead_name": "Ana Ruiz"})
    assert "“4” is not possible. Allowed: a whole number from 1 to 3." in again.words
    group = manager.submit(again, size="3")
    assert "8 of 8 seats booked" in group.words
    booking = sorted(link for link in group.links if re.fullmatch(r".*/bookings/\d+", link))[-1]
    return group.path, booking


def people_stand_at_the_door(manager: Screen) -> None:
    door = manager.get("/staff/walk-in")
    assert "No tour of this day has a free place." in door.words
    form = manager.get("/staff/tours/new")
    today = manager.get("/staff/tours/pattern").form().fields["first"]
    late = manager.submit(form, starts_at=f"{today}T23:45", places="6", language="en")
    assert late.status == 409
    assert "the house is open until" in late.words or "The house is closed on this day" in late.words
    manager.submit(late)
    group = manager.submit(manager.get("/staff/walk-in"), "/walk-in", size="2")
    assert "walk-in 2 people" in group.words
    assert "Check in 2 guests" in group.words


def a_party_moves_and_a_tour_is_split_merged_and_shortened(manager: Screen, tour: str, booking: str) -> None:
    page = manager.get(booking)
    (other,) = re.findall(r'name="to" value="(\d+)"', page.body.decode())[:1]
    moved = manager.submit(page, "/move", to=other)
    assert "Ana Ruiz" in moved.words
    back = next(link for link in moved.links if re.fullmatch(r".*/bookings/\d+", link))
    manager.submit(manager.get(back), "/move", to=tour.rsplit("/", 1)[1])
    split = manager.get(f"{tour}/split")
    looked = manager.submit(split, booking=booking.rsplit("/", 1)[1], places="4")
    assert "What the new group does" in looked.words
    new = manager.submit(looked)
    assert "3 of 4 seats booked" in new.words
    merged = manager.submit(manager.get(f"{new.path}/merge"), ".", to=tour.rsplit("/", 1)[1])
    assert "8 of 8 seats booked" in merged.words
    ways = manager.get(f"{tour}/shorten?minutes=10")
    assert "Makes up 1" in ways.words
    (way,) = re.findall(r'name="way" value="(\w+)"', ways.body.decode())[:1]
    assert manager.submit(ways, way=way).status == 200


def the_rest_of_a_pattern_is_canceled(manager: Screen, monday: date) -> None:
    week = manager.get(f"/staff/week?day={monday + timedelta(days=7)}")
    tours = [link for link in week.links if re.fullmatch(r"/staff/tours/\d+", link)]
    manager.submit(manager.get(f"{tours[-2]}/change"), "/cancel", why="weather", apply="rest")
    assert manager.get(week.path).words.count("canceled") == 2


def a_seller_sends_a_table(manager: Screen, monday: date) -> None:
    thursday = monday + timedelta(days=10)
    head = "reference;day;time;name;people;language"
    good = f"{head}\nS-1;{thursday};10:00;Luz Vega;3;es\nS-2;{thursday};14:00;Eva Sol;2;en\n"
    wrong = manager.upload(manager.get("/staff/bookings/file"), {"week.csv": good.replace(";3;", ";9;")})
    assert "Row 2, people: The tour has 8 free places." in wrong.words
    seen = manager.upload(wrong, {"week.csv": good})
    assert "2 new, 0 changed, 0 the same." in seen.words
    mark, table = re.findall(r'name="shown" value="(\w+)"', seen.body.decode())[0], good
    assert manager.submit(seen, "/record", shown=mark, table=table).status == 200
    again = manager.upload(manager.get("/staff/bookings/file"), {"week.csv": good})
    assert "0 new, 0 changed, 2 the same." in again.words
    ended = good.replace("language", "language;ticket;status").replace(";es", ";es;estate;")
    ended = ended.replace(";en", ";en;;canceled")
    seen = manager.upload(again, {"week.csv": ended})
    assert "1 changed, 0 the same, 1 canceled (2 places become free)" in seen.words
    mark = re.findall(r'name="shown" value="(\w+)"', seen.body.decode())[0]
    assert manager.submit(seen, "/record", shown=mark, table=ended).status == 200
    again = manager.upload(manager.get("/staff/bookings/file"), {"week.csv": ended})
    assert "0 changed, 1 the same, 1 canceled or a no-show here, and left so." in again.words


def a_guest_reads_the_prices(house: House) -> None:
    page = Screen(house.base).get("/en/prices")
    assert "The whole estate" in page.words
    assert "38.00" in page.words


def a_phone_reads_the_tours(manager: Screen) -> None:
    page = manager.submit(manager.get("/staff/feed"), act="renew")
    (address,) = re.findall(r"/calendar/\d+/\w+\.ics", page.body.decode())
    feed = Screen(manager.base).get(address).body.decode()
    assert feed.count("BEGIN:VEVENT") >= 10
    assert "STATUS:CANCELLED" in feed
    assert "Luz Vega" not in feed
    manager.submit(manager.get("/staff/feed"), act="revoke")
    assert Screen(manager.base).get(address).status == 404


def test_a_house_plans_its_weeks(house: House, manager: Screen) -> None:
    an_empty_week_says_where_to_begin(manager)
    monday = _monday(manager)
    two_weeks_are_planned_as_a_pattern(manager, monday)
    a_day_is_closed_and_has_its_people(manager, monday)
    tour, booking = two_parties_call(manager, monday)
    people_stand_at_the_door(manager)
    a_party_moves_and_a_tour_is_split_merged_and_shortened(manager, tour, booking)
    a_seller_sends_a_table(manager, monday)
    a_guest_reads_the_prices(house)
    the_rest_of_a_pattern_is_canceled(manager, monday)
    a_phone_reads_the_tours(manager)
