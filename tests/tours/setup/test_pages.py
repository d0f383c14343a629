"""The set-up list as a page that is ticked, as paper, and the day page that leads to it."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pypdfium2
import pytest

from kiosk.store import rows
from kiosk.store.tables.tours import bookings, service_days, tours
from tests.actors import Screen, hire, text_of
from tests.costs import cost
from tests.tasting_room import Tasting


def _tick(tablet: Screen, page: str, line: str, done: str) -> int:
    key = re.search(r'name="key" value="([0-9a-f]{32})"', tablet.get(page).get_data(as_text=True))
    assert key is not None
    tablet.app.extensions["kiosk"].clock.pass_s(1)
    return tablet.post(page, page=page, key=key[1], line=line, done=done).status_code


def test_the_list_is_ticked_on_the_page(tablet: Screen, paged: Tasting) -> None:
    page = tablet.get("/staff/setup").get_data(as_text=True)
    assert re.search(r"<b>4</b> <span>Tasting glasses", page)  # two guests, two samples
    assert 'aria-pressed="true"' not in page
    assert _tick(tablet, "/staff/setup", f"{paged.tour}:glasses", "yes") == 303
    assert tablet.get("/staff/setup").get_data(as_text=True).count('aria-pressed="true"') == 1
    assert _tick(tablet, "/staff/setup", f"{paged.tour}:glasses", "no") == 303
    assert 'aria-pressed="true"' not in tablet.get("/staff/setup").get_data(as_text=True)
    assert _tick(tablet, "/staff/setup", "77:glasses", "yes") == 422


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_list_prints_on_one_sheet(tablet: Screen, paged: Tasting, paper: str) -> None:
    answer = tablet.get(f"/staff/setup.pdf?paper={paper}")
    assert answer.mimetype == "application/pdf"
    sheets = pypdfium2.PdfDocument(answer.data)
    assert len(sheets) == 1
    words = sheets[0].get_textpage().get_text_range()
    assert "Tasting glasses" in words
    assert "TOUR A" in words


def test_a_day_without_bookings_needs_nothing(tablet: Screen, paged: Tasting) -> None:
    assert "nothing is to be set out" in text_of(tablet.get("/staff/setup?day=2026-07-20"))
    assert tablet.get("/staff/setup.pdf?day=2026-07-20").status_code == 200


def test_the_day_says_who_comes_who_helps_and_leads_to_its_list(tablet: Screen, paged: Tasting) -> None:
    with paged.store.write() as session:
        party = {
            "tour_id": paged.tour,
            "size": 3,
            "language": "es",
            "lead_name": "Rosa Pons",
            "notes": "n" * 90,
        }
        rows.insert(session, bookings, {**party, "allergy_notes": "mango"})
        day = {"day": paged.site.service_day(paged.now), "first_aider_id": paged.ana}
        rows.insert(session, service_days, day)
    page = tablet.get("/staff/")
    words = text_of(page)
    for told in ("First aid: Ana", "Keys: not decided", "Rosa Pons, 3", "n" * 90, "mango", "Who comes: 4 ES"):
        assert told in words, told
    assert 'href="/staff/setup"' in page.get_data(as_text=True)


def test_names_and_needs_of_other_days_are_for_those_who_may_see_them(
    tablet: Screen, paged: Tasting, now: datetime
) -> None:
    with paged.store.write() as session:
        values = {"route": "main", "languages": ["es"], "room": "main", "places": 22, "private": False}
        other = now + timedelta(days=2)
        tour_id = rows.insert(session, tours, {**values, "letter": "Q", "starts_at": other})
        party = {
            "tour_id": tour_id,
            "size": 3,
            "language": "es",
            "lead_name": "Rosa Pons",
            "notes": "a choir",
        }
        rows.insert(session, bookings, party)
    tablet.sign_in(hire(paged.store, paged.site, now, name="Bo", roles=("bar",)))
    for path in (f"/staff/?day={other.date()}", f"/staff/setup?day={other.date()}"):
        assert "a choir" not in text_of(tablet.get(path))
    tablet.sign_in(hire(paged.store, paged.site, now, name="Mara", roles=("manager",)))
    for path in (f"/staff/?day={other.date()}", f"/staff/setup?day={other.date()}"):
        assert "a choir" in text_of(tablet.get(path))


def test_a_day_of_sixty_tours_and_900_guests_takes_the_queries_of_the_smallest(
    tablet: Screen, paged: Tasting
) -> None:
    tablet.get("/staff/")
    with cost(paged.store) as small:
        tablet.get("/staff/")
    values = {"route": "main", "languages": ["es"], "room": "main", "places": 22, "private": False}
    with paged.store.write() as session:
        for n in range(59):
            starts_at = paged.now + timedelta(minutes=5 * n)
            tour_id = rows.insert(session, tours, {**values, "letter": f"B{n}", "starts_at": starts_at})
            rows.insert(session, bookings, {"tour_id": tour_id, "size": 15, "language": "en"})
    tablet.get("/staff/")
    with cost(paged.store) as large:
        page = tablet.get("/staff/").get_data(as_text=True)
    assert page.count('<li class="plank') == 60
    assert len(large.queries) == len(small.queries), large.queries
    assert len(page) < 500_000
