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


def _press(tablet: Screen, tour: int, guest: int, kind: str) -> int:
    """Press a guest's button as it stands on the page."""
    page = _page(tablet, f"/staff/tours/{tour}")
    row = re.search(rf'id="guest-{guest}".*?</li>', page, re.S)
    assert row is not None
    assert f'name="kind" value="{kind}"' in row[0]
    key = re.search(r'name="key" value="([0-9a-f]{32})"', row[0])
    assert key is not None
    path = f"/staff/tours/{tour}"
    return tablet.post(f"{path}/marks", page=path, guest=guest, kind=kind, key=key[1]).status_code


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


def test_a_group_shows_the_date_in_words_and_both_orders(tablet: Screen, paged: Tasting) -> None:
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    assert "Born on or before June 16, 2005" in page
    assert "16/06/2005" in page
    assert "06/16/2005" in page


def test_a_document_seen_lets_a_guest_be_served(tablet: Screen, paged: Tasting, now: datetime) -> None:
    first, _second = paged.guests
    assert _press(tablet, paged.tour, first, "id_check") == 302
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    assert page.count("May be served") == 1
    assert page.count("Age not checked") == 1
    with paged.store.read() as session:
        (stands,) = session.execute(select(marks)).all()
    assert (stands.guest_id, stands.kind, stands.at) == (first, "id_check", now)


def test_every_button_on_the_page_records_its_mark(tablet: Screen, paged: Tasting) -> None:
    guest = paged.guests[0]
    for kind in ("no_alcohol", "no_alcohol_lifted", "id_check", "under_age"):
        assert _press(tablet, paged.tour, guest, kind) == 302
    with paged.store.read() as session:
        assert len(session.execute(select(marks)).all()) == 4


def test_under_age_and_no_alcohol_look_alike_to_bystanders(tablet: Screen, paged: Tasting) -> None:
    """Only the buttons, which staff know, tell them apart."""
    first, second = paged.guests
    _press(tablet, paged.tour, first, "no_alcohol")
    _press(tablet, paged.tour, second, "under_age")
    page = _page(tablet, f"/staff/tours/{paged.tour}")
    assert page.count("Alcohol-free") == 2
    assert "ID checked by second person" in page


def test_a_mark_without_a_proper_key_is_refused(tablet: Screen, paged: Tasting) -> None:
    path = f"/staff/tours/{paged.tour}"
    answer = tablet.post(f"{path}/marks", page=path, guest=paged.guests[0], kind="id_check", key="again")
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
    answer = tablet.post(f"{path}/marks", page=path, guest=paged.guests[0], kind="id_check", key="0" * 32)
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
    guest = paged.guests[0]
    path = f"/staff/tours/{paged.tour}/guests/{guest}/allergies"
    assert "checked" not in _page(tablet, path)
    assert tablet.post(path, revision=1, allergen=["milk", "coconut"]).status_code == 303
    assert _page(tablet, path).count(" checked") == 2
    assert "milk, coconut" in _page(tablet, f"/staff/tours/{paged.tour}")
    assert tablet.post(path, revision=1, allergen=["fish"]).status_code == 409  # looked at before that
    assert tablet.post(path, revision=2, allergen=["perfume"]).status_code == 422
    assert tablet.post(path, revision=2).status_code == 303
    assert "milk, coconut" not in _page(tablet, f"/staff/tours/{paged.tour}")
    assert tablet.get(f"/staff/tours/99/guests/{guest}/allergies").status_code == 404


def test_the_day_has_this_mornings_lines(tablet: Screen, paged: Tasting) -> None:
    page = _page(tablet, "/staff/")
    assert "Today&#39;s talking points" in page


def test_a_mark_that_another_person_has_to_make_is_refused_beside_its_guest(
    tablet: Screen, paged: Tasting
) -> None:
    guest, path = paged.guests[0], f"/staff/tours/{paged.tour}"
    _press(tablet, paged.tour, guest, "under_age")
    answer = tablet.post(f"{path}/marks", page=path, guest=guest, kind="id_check", key="0" * 32)
    assert answer.status_code == 409
    page = answer.get_data(as_text=True)
    row = re.search(rf'id="guest-{guest}".*?</li>', page, re.S)
    assert row is not None
    assert "a second person has to check the ID" in row[0]
    assert f'id="guest-{paged.guests[1]}"' in page
