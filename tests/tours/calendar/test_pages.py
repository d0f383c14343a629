"""A week on one page, days closed by form, and patterns previewed before they are made."""

from __future__ import annotations

import re
from datetime import date, timedelta
from functools import partial

import pytest
from sqlalchemy import event, select

from kiosk.store import rows
from kiosk.store.tables.tours import service_days, tours
from kiosk.tours.calendar.days import service_day
from tests.actors import Screen, text_of
from tests.tasting_room import Tasting

PATTERN = {
    "days-1": ["3", "4", "5", "6"],
    "hours-1": "10:00, 14:00",
    "language-1": "en",
    "days-2": "5",
    "hours-2": "12:00",
    "language-2": "es",
    "hours-3": "",
    "language-3": "en",
    "first": "2026-06-18",
    "last": "2026-06-28",
    "places": "8",
    "guide": "",
    "flight": "",
    "room": "main",
}


def _seen(page: str) -> str:
    return re.findall(r'name="seen" value="([0-9a-f]+)"', page)[0]


def test_a_pattern_is_previewed_then_planned_and_seen_in_the_week(desk: Screen, routed: Tasting) -> None:
    path = "/staff/tours/pattern"
    seen = desk.post(path, act="preview", **PATTERN)
    assert "18 tours will be made ." in text_of(seen)
    with routed.store.read() as session:
        assert len(session.execute(select(tours)).all()) == 1
    made = desk.post(path, act="record", seen=_seen(seen.get_data(as_text=True)), **PATTERN)
    assert made.location.endswith("/staff/week?day=2026-06-18&made=18")
    week = text_of(desk.get(made.location))
    assert "18 tours were planned." in week
    assert "Sat, Jun 20" in week
    assert "0 of 8 · no guide" in week
    assert week.count("no tours") == 2  # Monday and Wednesday; on Tuesday is the tour of the two guests


def test_a_pattern_with_mistakes_is_shown_again_with_them(desk: Screen) -> None:
    wrong = desk.post(
        "/staff/tours/pattern",
        act="preview",
        **{**PATTERN, "hours-1": "ten", "days-2": [], "last": "2026-06-17", "places": "8"},
    )
    assert wrong.status_code == 422
    text = text_of(wrong)
    assert "“ten” is not a list of times. Write them like 10:00, 14:30." in text
    assert "Choose at least one weekday." in text
    assert 'value="ten"' in wrong.get_data(as_text=True)


def test_a_preview_that_is_out_of_date_makes_nothing(desk: Screen, routed: Tasting) -> None:
    answer = desk.post("/staff/tours/pattern", act="record", seen="0" * 16, **PATTERN)
    assert answer.status_code == 409
    assert "The plan of these days has changed since you looked." in text_of(answer)


def test_a_day_is_closed_with_its_tours_and_its_people_are_named(desk: Screen, routed: Tasting) -> None:
    desk.post("/staff/tours/new", **_tour("2026-06-19T10:00"))
    path = "/staff/days/2026-06-19"
    assert "1 tour is planned on this day, 0 people are booked." in text_of(desk.get(path))
    given = {"closed_why": "weather", "first_aider": str(routed.bea), "key_holder": str(routed.ana)}
    saved = desk.post(path, revision="0", cancel_tours="yes", **given)
    assert saved.status_code == 303
    week = text_of(desk.get(saved.location))
    assert "house closed weather" in week
    assert "First aid: Bea · Keys: Ana" in week
    assert "canceled" in week
    with routed.store.read() as session:
        known = service_day(session, routed.site, date(2026, 6, 19))
        assert (known.closed_why, known.first_aider, known.key_holder) == ("weather", "Bea", "Ana")
        assert session.scalars(select(tours.c.cancelled_why).where(tours.c.id > 1)).all() == ["closed"]
    assert desk.post(path, revision="0", closed_why="", first_aider="", key_holder="").status_code == 409
    assert desk.post(path, revision="1", closed_why="", first_aider="", key_holder="").status_code == 303
    with routed.store.read() as session:
        assert session.scalars(select(service_days.c.closed_why)).one() is None


@pytest.mark.parametrize("field", ["closed_why", "first_aider"])
def test_a_day_with_a_mistake_is_shown_again(desk: Screen, field: str) -> None:
    given = {"closed_why": "", "first_aider": "", "key_holder": "", field: "99"}
    answer = desk.post("/staff/days/2026-06-19", revision="0", **given)
    assert answer.status_code == 422
    assert "Not saved yet." in text_of(answer)


def _tour(start: str, **changes: str) -> dict[str, str]:
    said = {"starts_at": start, "language": "en", "guide": "", "flight": "", "room": "main", "places": "8"}
    return {**said, **changes}


def test_a_tour_that_clashes_is_saved_only_after_its_effects_were_shown(
    desk: Screen, routed: Tasting
) -> None:
    assert desk.post("/staff/tours/new", **_tour("2026-06-18T10:00")).status_code == 303
    looked = desk.post("/staff/tours/new", **_tour("2026-06-18T10:10"))
    assert looked.status_code == 409
    text = text_of(looked)
    assert "16 people of tours this one, A, where 10 fit." in text
    assert re.search(r"The next start that clashes with nothing: 10:40.AM\.", text)
    page = looked.get_data(as_text=True)
    saved = desk.post("/staff/tours/new", **_tour("2026-06-18T10:10"), seen=_seen(page))
    assert saved.status_code == 303
    assert "clash" in text_of(desk.get("/staff/week?day=2026-06-18"))


def test_a_tour_on_a_closed_day_says_so_first(desk: Screen) -> None:
    given = {"closed_why": "holiday", "first_aider": "", "key_holder": ""}
    desk.post("/staff/days/2026-06-18", revision="0", **given)
    looked = desk.post("/staff/tours/new", **_tour("2026-06-18T10:00"))
    assert looked.status_code == 409
    assert "The house is closed on this day: public holiday." in text_of(looked)


def test_the_rest_of_a_pattern_is_changed_after_it_was_shown_and_canceled(
    desk: Screen, routed: Tasting
) -> None:
    seen = desk.post("/staff/tours/pattern", act="preview", **PATTERN)
    desk.post("/staff/tours/pattern", act="record", seen=_seen(seen.get_data(as_text=True)), **PATTERN)
    with routed.store.read() as session:
        sunday = session.scalars(select(tours.c.id).order_by(tours.c.starts_at.desc())).all()[1]
    path, changed = f"/staff/tours/{sunday}/change", _tour("2026-06-28T10:30", apply="rest")
    looked = desk.post(path, revision="1", **changed)
    assert looked.status_code == 409
    assert "This changes 2 tours" in text_of(looked)
    saved = desk.post(path, revision="1", seen=_seen(looked.get_data(as_text=True)), **changed)
    assert saved.status_code == 303
    week = text_of(desk.get("/staff/week?day=2026-06-28"))
    assert "10:30 AM" in week
    assert "2:30 PM" in week
    desk.post(f"/staff/tours/{sunday}/cancel", path, revision="2", why="weather", apply="rest")
    with routed.store.read() as session:
        canceled = select(tours.c.id).where(tours.c.cancelled_why == "weather")
        assert len(session.scalars(canceled).all()) == 2


def _keep_statement(asked: list[str], *told: object) -> None:
    asked.append(str(told[2]))


def test_the_fullest_week_takes_as_many_queries_as_an_empty_one(desk: Screen, routed: Tasting) -> None:
    counts = []
    for n in (0, 60):
        with routed.store.write() as session:
            start = routed.now + timedelta(days=2)
            values = {"route": "main", "languages": ["en"], "room": "main", "places": 15, "private": False}
            each = [
                {**values, "letter": f"T{k}", "starts_at": start + timedelta(minutes=5 * k)} for k in range(n)
            ]
            rows.insert_many(session, tours, each)
        asked: list[str] = []
        listener = partial(_keep_statement, asked)
        event.listen(routed.store.engine, "before_cursor_execute", listener)
        assert desk.get("/staff/week?day=2026-06-18").status_code == 200
        event.remove(routed.store.engine, "before_cursor_execute", listener)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_free_starts_of_a_tour_are_not_held_by_itself(desk: Screen, routed: Tasting) -> None:
    added = desk.post("/staff/tours/new", **_tour("2026-06-18T10:00"))
    form = text_of(desk.get(f"{added.location}/change"))
    assert re.search(r"Next starts that clash with nothing: 10:00.AM, 10:30.AM, 11:00.AM", form)
    other = text_of(desk.get("/staff/tours/new?day=2026-06-18"))
    assert re.search(r"Next starts that clash with nothing: 10:40.AM", other)
