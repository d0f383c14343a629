"""A guest's own data: searched for, shown whole, and erased without touching what is counted."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.stops.guest_link import guest_token
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.shared import history
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, guests, marks
from kiosk.tours.personal_data import records
from tests.actors import Clock, Screen, running, signed_in, text_of
from tests.tasting_room import Tasting

WORDS = {
    "lead_name": "Perpetua Ñandú",
    "contact": "perpetua@visit.example",
    "notes": "comes with a stroller",
    "ticket": "T-4711",
    "source_key": "f" * 64,
    "access_needs": "no steep stairs",
    "allergens": ["nuts"],
}
OWN = {"first_name": "Segismunda", "access_needs": "a chair at each stop", "allergens": ["milk"]}


@pytest.fixture
def named(tasting: Tasting) -> Tasting:
    """Two guests whose booking and first guest have every personal value; the first was served."""
    with tasting.store.write() as session:
        rows.change(session, bookings, 1, 1, WORDS, by=tasting.ana, at=tasting.now)
        rows.change(session, guests, tasting.guests[0], 1, OWN, by=tasting.ana, at=tasting.now)
    glass = tasting.pour(tasting.guests[0])
    tasting.correct(glass.key, "unfinished")
    return tasting


def kept(tasting: Tasting) -> records.Kept:
    with tasting.store.read() as session:
        return records.kept_of_booking(session, 1)


def search(tasting: Tasting, days: int | None = None, number: int | None = None, name: str = "") -> list[int]:
    day = None if days is None else tasting.site.service_day(tasting.now) + timedelta(days=days)
    with tasting.store.read() as session:
        found = records.search(session, tasting.site, day, number, name)
    return [booking.id for booking, _tour in found]


def erase(tasting: Tasting, guest: int | None = None, days: int = 0) -> None:
    at = tasting.now + timedelta(days=days)
    with tasting.store.write() as session:
        records.erase(session, tasting.site, 1, guest, by=tasting.ana, at=at)


def everything(tasting: Tasting) -> str:
    """Return all that the database says of bookings and guests, former selves too, as text."""
    with tasting.store.read() as session:
        return str([session.execute(select(table)).all() for table in (bookings, guests, history)])


@pytest.mark.parametrize(
    ("asked", "fits"),
    [
        ({"days": 0}, True),
        ({"days": 1}, False),
        ({"days": 0, "number": 1}, True),
        ({"days": 0, "number": 9}, False),
        ({"name": "perpetua nandu"}, True),
        ({"name": "ÑANDÚ"}, True),
        ({"name": "visit.example"}, True),
        ({"name": "4711"}, True),
        ({"name": "segis"}, True),
        ({"name": "%"}, False),
        ({"name": "stroller"}, False),
        ({"days": 0, "number": 1, "name": "perpetua"}, True),
        ({"days": 0, "number": 1, "name": "other"}, False),
        ({}, False),
        ({"number": 1}, False),
    ],
)
def test_a_booking_is_searched_for_by_day_number_and_name(named: Tasting, asked: dict, fits: bool) -> None:
    assert search(named, **asked) == ([1] if fits else [])


def test_everything_kept_of_a_guest_is_there(named: Tasting) -> None:
    found = kept(named)
    assert found.erasable
    assert {name: found.booking._mapping[name] for name in WORDS} == WORDS
    assert {name: found.guests[0]._mapping[name] for name in OWN} == OWN
    entries = found.entries[named.guests[0]]
    assert {(entry.ledger, entry.kind) for entry in entries} == {
        *{("marks", "id_check"), ("pours", "poured"), ("pour_marks", "unfinished")}
    }
    (poured,) = [entry for entry in entries if entry.ledger == "pours"]
    assert (poured.glass, poured.volume_ul, poured.at) == ("blanco", 7393, named.now)
    assert found.entries[named.guests[1]] == []


def test_erasing_a_booking_empties_it_and_its_guests_and_leaves_every_count(named: Tasting) -> None:
    for guest in named.guests:
        named.mark(guest, "gone")
    before = kept(named).entries
    erase(named)
    found = kept(named)
    assert not found.erasable
    assert {found.booking._mapping[name] for name in WORDS} == {None}
    assert {found.guests[0]._mapping[name] for name in OWN} == {None}
    assert found.entries == before
    assert [guest.number for guest in found.guests] == [1, 2]
    told = everything(named)
    for word in (*WORDS.values(), "Segismunda", "chair", "milk", "nuts"):
        assert str(word) not in told, word
    with named.store.read() as session:
        assert len(session.execute(select(pours)).all()) == 1
        whys = session.execute(
            select(history.c.table_name, history.c.by).where(history.c.why == records.ERASED)
        )
        assert sorted(whys.all()) == [("bookings", named.ana), ("guests", named.ana), ("guests", named.ana)]


def test_erasing_one_guest_leaves_the_booking_and_the_others(named: Tasting) -> None:
    with named.store.write() as session:
        rows.change(session, guests, named.guests[1], 1, {"first_name": "Otto"}, by=named.ana, at=named.now)
    named.mark(named.guests[0], "gone")
    erase(named, named.guests[0])
    found = kept(named)
    assert found.booking.lead_name == WORDS["lead_name"]
    assert [guest.first_name for guest in found.guests] == [None, "Otto"]


def test_allergens_stay_while_the_guest_is_in_the_house_and_go_afterwards(named: Tasting) -> None:
    erase(named)
    first = kept(named).guests[0]
    assert (first.first_name, first.access_needs, first.allergens) == (None, None, ["milk"])
    assert (kept(named).booking.lead_name, kept(named).booking.allergens) == (None, ["nuts"])
    erase(named)  # again at once changes nothing
    assert kept(named).guests[0].revision == first.revision
    erase(named, days=1)
    assert kept(named).guests[0].allergens is None
    assert kept(named).booking.allergens is None


def test_a_guests_own_page_ends(named: Tasting, now: datetime) -> None:
    app = running(named.site, named.store, Clock(now))
    address = f"/g/{guest_token(named.site.secret, named.guests[0], 0)}"
    assert "Blanco" in app.test_client().get(address).get_data(as_text=True)
    erase(named, named.guests[0])
    assert "Blanco" not in app.test_client().get(address).get_data(as_text=True)


def test_a_guest_of_another_booking_is_not_erased(named: Tasting) -> None:
    before = everything(named)
    with pytest.raises(NoSuchRow):
        erase(named, 999)
    assert everything(named) == before


def test_every_kind_of_mark_has_its_words() -> None:
    from kiosk.entries.guest_marks import MARK_KINDS
    from kiosk.tasting.room.entry_kinds import CORRECTION_KINDS

    assert set(records.KINDS["marks"]) == MARK_KINDS
    assert set(records.KINDS["pour_marks"]) == {*CORRECTION_KINDS, "seated"}


@pytest.fixture
def manager(paged: Tasting, now: datetime) -> Screen:
    """A manager's tablet; the first guest is named and was refused a pour."""
    with paged.store.write() as session:
        rows.change(session, bookings, 1, 1, WORDS, by=paged.ana, at=now)
        rows.change(session, guests, paged.guests[0], 1, OWN, by=paged.ana, at=now)
    paged.pour(paged.guests[0])
    app = running(paged.site, paged.store, Clock(now))
    return signed_in(app, paged.store, paged.site, now, "manager", "Mara")


PAGE = "/staff/personal-data"


def test_a_manager_finds_shows_and_erases(manager: Screen, paged: Tasting) -> None:
    found = manager.post(PAGE, name="nandu")
    assert f'href="{PAGE}/1"' in found.get_data(as_text=True)
    page = text_of(manager.get(f"{PAGE}/1"))
    for word in (
        *(word for name, word in WORDS.items() if name != "allergens"),
        "Segismunda",
        "a chair at each stop",
        "milk",
        "refused: Blanco, 0.25 US fl oz",
    ):
        assert word in page, word
    done = manager.post(f"{PAGE}/1/erase", page=f"{PAGE}/1")
    assert (done.status_code, done.headers["Location"]) == (303, f"{PAGE}/1")
    page = text_of(manager.get(f"{PAGE}/1"))
    assert "Allergies stay until this guest has left" in page
    for guest in paged.guests:
        paged.mark(guest, "gone")
    manager.post(f"{PAGE}/1/erase", page=f"{PAGE}/1", guest=paged.guests[0])
    assert "nuts" in text_of(manager.get(f"{PAGE}/1")).lower()
    manager.post(f"{PAGE}/1/erase", page=f"{PAGE}/1")
    page = text_of(manager.get(f"{PAGE}/1"))
    assert "Nothing personal is kept any more." in page
    assert "refused: Blanco" in page
    assert not re.search("Segismunda|Perpetua|stroller|4711|Milk", page, re.I)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Give a day, a day and a guest number, or a name."),
        ({"number": "4"}, "Give a day, a day and a guest number, or a name."),
        ({"day": "yesterday"}, "yesterday is no day."),
        ({"day": "0001-01-01"}, "0001-01-01 is no day."),
        ({"day": "9999-12-31"}, "9999-12-31 is no day."),
        ({"day": "2026-06-16", "number": "first"}, "first is no guest number."),
        ({"day": "2026-06-16", "number": "999999999"}, "0 bookings"),
        ({"name": "nobody"}, "Names are gone after 30 days"),
    ],
)
def test_what_cannot_be_searched_for_is_said_and_stays_typed(
    manager: Screen, typed: dict[str, str], sentence: str
) -> None:
    answer = manager.post(PAGE, **typed)
    assert answer.status_code == 200
    assert sentence in text_of(answer)
    for value in typed.values():
        assert f'value="{value}"' in answer.get_data(as_text=True)


def test_an_unknown_booking_is_not_there(manager: Screen) -> None:
    assert manager.get(f"{PAGE}/999").status_code == 404
    assert manager.post(f"{PAGE}/999/erase", page=PAGE).status_code == 404
    assert manager.post(f"{PAGE}/1/erase", page=PAGE, guest=999).status_code == 404


def test_marks_of_guests_stay_when_they_are_erased(named: Tasting) -> None:
    erase(named)
    with named.store.read() as session:
        assert len(session.execute(select(marks)).all()) == 1
