"""The pages of the day and of a group, worked by somebody who is signed in."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.store import rows
from kiosk.store.audit import mark_site
from kiosk.store.tables.tours import bookings, guests, marks, tours
from tests.actors import Screen, hire
from tests.tasting_room import Tasting


def _page(tablet: Screen, path: str) -> str:
    answer = tablet.get(path)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def _press(tablet: Screen, tour: int, place: int, kind: str) -> int:
    """Press a button of the sheet of a head of the first booking, as it stands on the page."""
    path = f"/staff/tours/{tour}"
    page = _page(tablet, f"{path}?head=1-{place}")
    form = re.search(rf'<form[^>]*/marks"(?:(?!</form>).)*name="kind" value="{kind}".*?</form>', page, re.S)
    assert form is not None
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form[0]))
    return tablet.post(f"{path}/marks", page=path, **fields).status_code


def test_the_day_leads_to_its_groups(tablet: Screen, paged: Tasting) -> None:
    page = _page(tablet, "/staff/")
    assert f'href="/staff/tours/{paged.tour}"' in page
    assert "2 of 2 checked in, 20 seats free" in page


@pytest.mark.parametrize(
    ("role", "group", "tasting"),
    [("guide", True, True), ("bar", True, True), ("trainee", True, False), ("production", False, False)],
)
def test_the_day_links_only_to_what_its_reader_may_open(
    tablet: Screen, paged: Tasting, now: datetime, role: str, group: bool, tasting: bool
) -> None:
    """The tour of the fixture should have started an hour ago, so that its button leads to its tasting."""
    tablet.sign_in(hire(paged.store, paged.site, now, name="Tino", roles=(role,)))
    page = _page(tablet, "/staff/")
    for path, may in ((f"/staff/tours/{paged.tour}", group), (f"/staff/tours/{paged.tour}/tasting", tasting)):
        assert (f'href="{path}"' in page) == may
        assert (tablet.get(path).status_code == 200) == may


def test_the_first_tour_stands_right_below_the_head_and_has_one_button(
    tablet: Screen, paged: Tasting, now: datetime
) -> None:
    page = _page(tablet, "/staff/")
    main = page[page.index("<main") : page.index("</main>")]
    before, plank = main.split('<ol class="planks">')
    assert "<a" not in before
    assert "<button" not in before
    card = plank[: plank.index("day-facts")]
    assert len(re.findall(r'class="button', card)) == 1
    for way in ("walk-in", "bookings/new", "setup", "week"):  # each still one press away
        assert re.search(rf'href="/staff/[^"]*{way}', main), way
    yesterday = paged.site.service_day(now) - timedelta(days=1)
    assert f'href="/staff/?day={yesterday}" aria-label="Yesterday"' in page


def test_the_bar_states_the_time_of_the_house_without_a_script(tablet: Screen, paged: Tasting) -> None:
    at = paged.site.local(paged.now)
    seconds = at.hour * 3600 + at.minute * 60 + at.second
    clock = re.search(
        r'<time class="clock" datetime="([\d:]+)" data-clock="(\d+)" data-halves="AM\|PM"><b>([\d:]+)</b>',
        _page(tablet, "/staff/"),
    )
    assert clock is not None
    assert clock.groups() == (f"{at:%H:%M}", str(seconds), f"{at:%-I:%M}")


def test_the_head_that_is_next_is_marked_until_one_is_in_hand(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}"
    assert re.findall(r'<li class="head head-next" id="([\w-]+)"', _page(tablet, path)) == ["head-1-1"]
    _press(tablet, paged.tour, 1, "id_check")
    page = _page(tablet, path)
    assert re.findall(r'<li class="head head-next" id="([\w-]+)"', page) == ["head-1-2"]
    assert "Check ID now" in page
    assert "head-next" not in _page(tablet, f"{path}?head=1-2")
    facts = re.search(r'class="checkin-facts">(.*?)</p>', page, re.S)
    assert facts is not None
    assert re.findall(r"<span>(.*?)</span>", facts[1]) == ["2 of 2 here", "1 to check"]


def test_a_group_shows_the_date_in_words_and_both_orders(tablet: Screen, paged: Tasting) -> None:
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    assert re.search(r"Born on or before</span> <b>Jun 16, 2005</b>", page)
    assert "16/06/2005" in page
    assert "06/16/2005" in page


def test_a_document_seen_lets_a_guest_be_served(tablet: Screen, paged: Tasting, now: datetime) -> None:
    first, _second = paged.guests
    assert _press(tablet, paged.tour, 1, "id_check") == 303
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    assert page.count("ID checked") == 2  # on the tile, and on the button that takes it back
    assert page.count("Check ID") == 1
    with paged.store.read() as session:
        (stands,) = session.execute(select(marks)).all()
    assert (stands.guest_id, stands.kind, stands.at) == (first, "id_check", now)


def test_every_button_on_the_page_records_its_mark(tablet: Screen, paged: Tasting) -> None:
    kinds = (
        "no_alcohol",
        "no_alcohol_lifted",
        "id_check",
        "tasted_elsewhere",
        "briefed",
        "under_age",
        "void",
    )
    for kind in kinds:
        assert _press(tablet, paged.tour, 1, kind) == 303
    with paged.store.read() as session:
        assert [row.kind for row in session.execute(select(marks))] == list(kinds)


def test_under_age_and_no_alcohol_look_alike_to_bystanders(tablet: Screen, paged: Tasting) -> None:
    """Only the sheet, which staff open, tells them apart."""
    _press(tablet, paged.tour, 1, "no_alcohol")
    _press(tablet, paged.tour, 2, "under_age")
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    tiles = re.findall(r'<li class="head".*?</li>', page, re.S)[:2]
    looks = [
        re.findall(r'data-look="\w+"|class="drawing stamp \w+"|<span class="head-state">.*', tile, re.S)
        for tile in tiles
    ]
    assert "Alcohol-free" in looks[0][-1]
    assert len(looks[0]) == 3
    assert looks[0] == looks[1]
    assert "ID checked by second person" in _page(tablet, f"/staff/tours/{paged.tour}?head=1-2")
    assert "by own wish" in _page(tablet, f"/staff/tours/{paged.tour}?head=1-1")


def test_a_mark_without_a_proper_key_is_refused(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}"
    answer = tablet.post(f"{path}/marks", page=path, head="1-1", kind="id_check", key="again")
    assert answer.status_code == 422


def test_an_arriving_party_gets_its_numbers(tablet: Screen, paged: Tasting) -> None:
    with paged.store.write() as session:
        party = {"tour_id": paged.tour, "size": 3, "language": "es", "lead_name": "Rosa & <Ana>"}
        booking_id = rows.insert(session, bookings, party)
    path = f"/staff/tours/{paged.tour}"
    page = _page(tablet, path)
    assert "Check in 3 guests" in page
    assert "Rosa &amp; &lt;Ana&gt;" in page
    assert tablet.post(f"{path}/bookings/{booking_id}/numbers", page=path).status_code == 302
    with paged.store.read() as session:
        numbers = session.scalars(select(guests.c.number).where(guests.c.booking_id == booking_id)).all()
    assert numbers == [3, 4, 5]
    assert "Check in 3 guests" not in _page(tablet, path)


def test_a_trainee_looks_and_does_not_mark(tablet: Screen, paged: Tasting, now: datetime) -> None:
    tablet.sign_in(hire(paged.store, paged.site, now, name="Tino", roles=("trainee",)))
    path = f"/staff/tours/{paged.tour}"
    assert 'name="kind"' not in _page(tablet, path)
    answer = tablet.post(f"{path}/marks", page=path, head="1-1", kind="id_check", key="0" * 32)
    assert answer.status_code == 403


@pytest.mark.parametrize("path", ["/staff/tours/999", "/staff/tours/nothing"])
def test_an_unknown_group_is_not_found(tablet: Screen, path: str) -> None:
    assert tablet.get(path).status_code == 404


def test_a_day_without_tours_says_so(tablet: Screen, paged: Tasting) -> None:
    with paged.store.write() as session:
        moved = {"starts_at": datetime.fromisoformat("2026-07-01T15:00:00+00:00")}
        rows.change(session, tours, paged.tour, 1, moved, by=None, at=paged.now)
    assert "No tours are planned" in _page(tablet, "/staff/")


def test_a_daily_run_that_is_long_ago_is_told_to_the_manager_alone(
    tablet: Screen, paged: Tasting, now: datetime
) -> None:
    with paged.store.write() as session:
        mark_site(session, paged.site.key, at=now - timedelta(days=5))
    assert "daily run" not in _page(tablet, "/staff/")
    tablet.sign_in(hire(paged.store, paged.site, now, name="Mara", roles=("manager",)))
    assert "has not been done for 5 days" in _page(tablet, "/staff/")


def test_what_a_guest_names_is_ticked_kept_and_shown(tablet: Screen, paged: Tasting) -> None:
    tour = f"/staff/tours/{paged.tour}"
    sheet, path = f"{tour}?head=1-1", f"{tour}/guests/{paged.guests[0]}/allergies"
    assert " checked>" not in _page(tablet, sheet)
    assert (
        tablet.post(path, page=tour, head="1-1", revision=1, allergen=["milk", "coconut"]).status_code == 303
    )
    assert _page(tablet, sheet).count(" checked>") == 2
    assert "milk, coconut" in _page(tablet, tour)
    assert tablet.post(path, page=tour, head="1-1", revision=1, allergen=["fish"]).status_code == 409
    assert tablet.post(path, page=tour, head="1-1", revision=2, allergen=["perfume"]).status_code == 422
    assert tablet.post(path, page=tour, head="1-1", revision=2).status_code == 303
    assert "milk, coconut" not in _page(tablet, tour)
    other = f"/staff/tours/99/guests/{paged.guests[0]}/allergies"
    assert tablet.post(other, page=tour, head="1-1", revision=3).status_code == 404


def test_the_day_has_this_mornings_lines(tablet: Screen, paged: Tasting) -> None:
    page = _page(tablet, "/staff/")
    assert "Today&#39;s talking points" in page


def test_a_mark_that_another_person_has_to_make_is_refused_beside_its_guest(
    tablet: Screen, paged: Tasting
) -> None:
    path = f"/staff/tours/{paged.tour}"
    _press(tablet, paged.tour, 1, "under_age")
    answer = tablet.post(f"{path}/marks", page=path, head="1-1", kind="id_check", key="0" * 32)
    assert answer.status_code == 409
    page = answer.get_data(as_text=True)
    sheet = re.search(r'id="sheet".*', page, re.S)
    assert sheet is not None
    assert "a second person has to check the ID" in sheet[0]
    assert 'id="head-1-2"' in page
