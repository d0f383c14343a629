"""Splitting, merging and shortening by page: each says first what it does, then does it."""

from __future__ import annotations

import re
from datetime import date

from sqlalchemy import select

from kiosk.store.tables.tours import bookings, tours
from tests.actors import Screen, text_of
from tests.tasting_room import Tasting

DAY = date(2026, 6, 18)


def _tour(desk: Screen, start: str, **changes: str) -> int:
    said = {"starts_at": f"{DAY}T{start}", "language": "en", "guide": "", "flight": "", "room": "main"}
    answer = desk.post("/staff/tours/new", **{**said, "places": "8", **changes})
    assert answer.status_code == 303, text_of(answer)
    return int(answer.location.rsplit("/", 1)[1])


def _book(desk: Screen, tour: int, size: int, name: str = "Rosa") -> int:
    path = f"/staff/tours/{tour}/bookings/new"
    answer = desk.post(path, lead_name=name, size=str(size), language="en")
    return int(answer.location.rsplit("-", 1)[1])


def _seen(page: str) -> str:
    return re.findall(r'name="seen" value="(\w+)"', page)[0]


def test_a_tour_is_split_after_its_effects_were_shown(desk: Screen, routed: Tasting) -> None:
    tour = _tour(desk, "10:00")
    going, _staying = _book(desk, tour, 3), _book(desk, tour, 4, "Ana")
    path = f"/staff/tours/{tour}/split"
    form = {"starts_at": f"{DAY}T10:30", "language": "es", "guide": "", "places": "4", "booking": str(going)}
    looked = desk.post(path, revision="1", **form)
    assert looked.status_code == 409
    assert "No other group is in the way, and none is held up." in text_of(looked)
    split = desk.post(path, revision="1", seen=_seen(looked.get_data(as_text=True)), **form)
    assert split.status_code == 303
    group = text_of(desk.get(split.location))
    assert "Tour B, June 18, 10:30" in group
    assert "3 of 4 seats booked" in group
    assert "4 of 4 seats booked" in text_of(desk.get(f"/staff/tours/{tour}"))


def test_a_split_that_cannot_be_keeps_what_was_typed(desk: Screen) -> None:
    tour = _tour(desk, "10:00")
    form = {"starts_at": f"{DAY}T10:30", "language": "es", "guide": "", "places": "4", "seen": "clear"}
    wrong = desk.post(f"/staff/tours/{tour}/split", revision="1", **form)
    assert wrong.status_code == 422
    assert "Tick the bookings that go with the new group; at least one stays." in text_of(wrong)
    assert 'value="2026-06-18T10:30"' in wrong.get_data(as_text=True)


def test_two_tours_are_merged_from_the_page_that_says_what_it_does(desk: Screen, routed: Tasting) -> None:
    one, other = _tour(desk, "10:00"), _tour(desk, "11:00")
    _book(desk, one, 5), _book(desk, other, 6)
    page = text_of(desk.get(f"/staff/tours/{one}/merge"))
    assert "Together 11 people, 8 places · places are added" in page
    assert "The group goes in turns: Still house (2)" in page
    merged = desk.post(f"/staff/tours/{one}/merge", revision="1", to=str(other))
    assert merged.status_code == 303
    assert "11 of 11 seats booked" in text_of(desk.get(merged.location))
    assert "merged with another tour" in text_of(desk.get(f"/staff/tours/{one}"))


def test_a_tour_is_shortened_by_a_way_and_gets_its_whole_route_again(desk: Screen, routed: Tasting) -> None:
    tour = _tour(desk, "10:00")
    path = f"/staff/tours/{tour}/shorten"
    page = desk.get(f"{path}?minutes=5")
    assert re.search(r"The tour ends about 11:2\d.AM\.", text_of(page))
    way = re.findall(r'name="way" value="(\w+)"', page.get_data(as_text=True))[0]
    gone = desk.post(path, revision="1", minutes="5", way="0" * 16)
    assert (gone.status_code, "Look at the ways again." in text_of(gone)) == (409, True)
    assert f'value="{way}"' in gone.get_data(as_text=True)
    assert desk.post(f"/staff/tours/{tour}/walk/shorten", path, revision="1", way=way).status_code == 405
    assert desk.post(path, revision="1", minutes="5", way=way).status_code == 303
    with routed.store.read() as session:
        plan = session.scalars(select(tours.c.plan).where(tours.c.id == tour)).one()
    assert sum(stop["minutes"] for stop in plan["stops"]) <= 15 + 15 + 40 - 5
    assert desk.post(path, revision="2", minutes="", way="").status_code == 303
    with routed.store.read() as session:
        assert session.scalars(select(tours.c.plan).where(tours.c.id == tour)).one() is None


def test_a_canceled_tour_that_would_clash_says_so_before_it_is_brought_back(desk: Screen) -> None:
    tour = _tour(desk, "10:00")
    desk.post(f"/staff/tours/{tour}/cancel", f"/staff/tours/{tour}/change", revision="1", why="few")
    _tour(desk, "10:05")
    path = f"/staff/tours/{tour}/cancel"
    looked = desk.post(path, f"/staff/tours/{tour}", revision="2", act="bring-back")
    assert looked.status_code == 409
    assert "16 people of tours A, B, where 10 fit." in text_of(looked)
    seen = _seen(looked.get_data(as_text=True))
    back = desk.post(path, f"/staff/tours/{tour}", revision="2", act="bring-back", seen=seen)
    assert back.status_code == 303


def test_a_call_is_one_page_with_the_free_places_of_the_day(desk: Screen, routed: Tasting) -> None:
    tour, full = _tour(desk, "10:00"), _tour(desk, "12:00", places="2")
    _book(desk, full, 2)
    path = f"/staff/bookings/new?day={DAY}"
    page = desk.get(path).get_data(as_text=True)
    assert f'name="tour" value="{tour}" checked' in page
    assert f'value="{full}"' not in page
    assert "8 places free" in text_of(desk.get(path))
    said = {"size": "3", "lead_name": "Rosa", "language": "es", "more_language": "en"}
    more = {"allergy_notes": "wasps", "voucher": "K-17, the hotel", "contact": "555 0100"}
    assert desk.post(path, **said).status_code == 422
    booked = desk.post(path, tour=str(tour), **said, **more)
    assert booked.status_code == 303
    with routed.store.read() as session:
        row = session.execute(select(bookings).order_by(bookings.c.id.desc())).first()
    assert row is not None
    assert (row.tour_id, row.size, row.more_languages) == (tour, 3, ["en"])
    assert (row.allergy_notes, row.voucher) == ("wasps", "K-17, the hotel")
    again = desk.get(f"/staff/tours/{tour}/bookings/{row.id}").get_data(as_text=True)
    assert 'value="wasps"' in again
    assert re.search(r'name="more_language" value="en" checked', again)


def test_people_at_the_door_are_booked_by_one_press_and_checked_in_by_the_next(
    desk: Screen, routed: Tasting
) -> None:
    page = desk.get("/staff/walk-in").get_data(as_text=True)
    assert re.findall(r'<button class="button" name="size" value="(\d)"', page) == list("12345678")
    booked = desk.post(f"/staff/tours/{routed.tour}/walk-in", "/staff/walk-in", size="2")
    group = desk.get(booked.location)
    assert "walk-in" in text_of(group)
    booking = booked.location.rsplit("-", 1)[1]
    numbers = f"/staff/tours/{routed.tour}/bookings/{booking}/numbers"
    assert numbers in group.get_data(as_text=True)
    assert desk.post(numbers, booked.location.partition("#")[0]).status_code == 302


def test_a_booking_is_moved_resized_marked_as_a_no_show_canceled_and_brought_back(
    desk: Screen, routed: Tasting
) -> None:
    tour, other = _tour(desk, "10:00"), _tour(desk, "12:00")
    path = f"/staff/tours/{tour}/bookings/{_book(desk, tour, 3)}"
    desk.post(f"{path}/size", path, revision="1", act="more")
    desk.post(f"{path}/size", path, revision="2", act="less")
    desk.post(f"{path}/no-show", path, revision="3")
    assert "They came after all" in text_of(desk.get(path))
    desk.post(f"{path}/bring-back", path, revision="4")
    moved = desk.post(f"{path}/move", path, revision="5", to=str(other))
    assert moved.location.startswith(f"/staff/tours/{other}")
    path = path.replace(f"tours/{tour}/", f"tours/{other}/")
    desk.post(f"{path}/cancel", path, revision="6")
    change = f"/staff/tours/{other}/change"
    assert "1 canceled booking" in text_of(desk.get(change))
    assert desk.post(f"{path}/bring-back", change, revision="7").status_code == 303
    assert "3 of 8 seats booked" in text_of(desk.get(f"/staff/tours/{other}"))
