"""The feed of tours, read back by another library: times at both edges of the clock, no names, revocable."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import vobject
from sqlalchemy import select

from kiosk.figures.tours.timetable import Stop
from kiosk.store import rows
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import tours
from kiosk.tours.calendar.feed import calendar, feed_of, reader_of_feed, renew_feed, revoke_feed
from kiosk.words.catalogs import Words
from tests.actors import Clock, Screen, running, text_of
from tests.tasting_room import Tasting

ROUTE = (Stop("still-house", 15, walk_minutes=5, holds=10),)


@pytest.fixture
def english(routed: Tasting) -> Words:
    """The words of the feed."""
    words: Words = running(routed.site, routed.store, Clock(routed.now)).extensions["kiosk"].words["en"]
    return words


def _document(tasting: Tasting, words: Words, now: datetime | None = None) -> bytes:
    with tasting.store.read() as session:
        return calendar(session, tasting.site, ROUTE, words, now or tasting.now)


def _tour(tasting: Tasting, start: datetime, letter: str, **more: object) -> int:
    values = {"letter": letter, "starts_at": start, "route": "main", "languages": ["en", "es"]}
    values |= {"room": "main", "places": 12, "private": False, "guide_id": tasting.ana, **more}
    with tasting.store.write() as session:
        return rows.insert(session, tours, values)


def test_the_document_follows_the_grammar_of_rfc_5545(routed: Tasting, english: Words) -> None:
    """Lines end in CRLF and have at most 75 octets (3.1); what an event needs is there once (3.6.1)."""
    _tour(routed, routed.now + timedelta(days=1), "B; with, signs\\")
    text = _document(routed, english)
    lines = text.split(b"\r\n")
    assert lines[-1] == b""
    assert not any(b"\n" in line or len(line) > 75 for line in lines)
    assert [line for line in lines if line.startswith((b"BEGIN", b"END", b"VERSION"))] == [
        b"BEGIN:VCALENDAR",
        b"VERSION:2.0",
        *[b"BEGIN:VEVENT", b"END:VEVENT"] * 2,
        b"END:VCALENDAR",
    ]
    for name in (b"UID:", b"DTSTAMP:", b"DTSTART:", b"DTEND:", b"SUMMARY:"):
        assert sum(line.startswith(name) for line in lines) == 2


def test_another_library_reads_the_hours_of_both_edges_of_daylight_saving(
    routed: Tasting, english: Words
) -> None:
    """At ten on the wall in Madrid: 08:00 UTC on 2026-10-24, 09:00 UTC on 2026-10-25, 08:00 on 2027-03-28."""
    zone = ZoneInfo("Europe/Madrid")
    days = [(2026, 10, 24), (2026, 10, 25), (2027, 3, 28)]
    walls = [datetime(*day, 10, tzinfo=zone) for day in days]
    for letter, wall in zip("XYZ", walls, strict=True):
        _tour(routed, wall, letter)
    found = {}
    for now in (walls[0], walls[2]):
        read = vobject.readOne(_document(routed, english, now).decode())
        found |= {event.summary.value[5]: event for event in read.vevent_list}
    starts = [found[letter].dtstart.value.astimezone(UTC) for letter in "XYZ"]
    assert [f"{start:%H:%M}" for start in starts] == ["08:00", "09:00", "08:00"]
    assert [f"{start.astimezone(zone):%H:%M}" for start in starts] == ["10:00"] * 3
    assert found["X"].dtend.value - found["X"].dtstart.value == timedelta(minutes=5 + 2 * 15)


def test_a_canceled_tour_says_so_and_a_changed_one_has_a_later_sequence(
    routed: Tasting, english: Words
) -> None:
    tour = _tour(routed, routed.now + timedelta(days=1), "B")
    gone = {"cancelled_at": routed.now, "cancelled_why": "weather"}
    with routed.store.write() as session:
        rows.change(session, tours, tour, 1, gone, by=routed.ana, at=routed.now)
    read = vobject.readOne(_document(routed, english).decode())
    (event,) = [one for one in read.vevent_list if one.uid.value == f"tour-{tour}@small-site"]
    assert (event.status.value, event.sequence.value) == ("CANCELLED", "1")


def test_no_name_is_in_the_feed(routed: Tasting, english: Words) -> None:
    _tour(routed, routed.now + timedelta(days=1), "B")
    with routed.store.write() as session:
        names = list(session.scalars(select(staff.c.name)))
        session.execute(tours.metadata.tables["bookings"].update().values(lead_name="Rosalinda"))
    text = _document(routed, english).decode()
    assert "Tour B · en\\, es · 0 of 12" in text
    assert not [name for name in (*names, "Rosalinda") if name in text]


def test_an_address_opens_until_it_is_renewed_revoked_or_its_person_has_left(routed: Tasting) -> None:
    who = {"by": routed.ana, "at": routed.now}
    addresses = []
    for _ in range(2):
        with routed.store.write() as session:
            renew_feed(session, routed.ana, **who)
            addresses.append(feed_of(session, routed.site, routed.ana) or "")

    def opens(mac: str) -> str | None:
        with routed.store.read() as session:
            return reader_of_feed(session, routed.site, routed.ana, mac, routed.now)

    assert [opens(mac) for mac in (*addresses, "", "é", addresses[1][:-1])] == [None, "en", None, None, None]
    other = replace(routed.site, secret=bytes(32))
    with routed.store.read() as session:
        assert reader_of_feed(session, other, routed.ana, addresses[1], routed.now) is None
    with routed.store.write() as session:
        revoke_feed(session, routed.ana, **who)
    assert opens(addresses[1]) is None
    with routed.store.write() as session:
        renew_feed(session, routed.ana, **who)
        mac = feed_of(session, routed.site, routed.ana) or ""
    assert opens(mac) == "en"
    with routed.store.write() as session:
        session.execute(staff.update().where(staff.c.id == routed.ana).values(left_on=routed.now.date()))
    assert opens(mac) is None


def test_a_person_makes_reads_and_ends_an_address_by_page(desk: Screen, routed: Tasting) -> None:
    desk.post("/staff/feed", act="renew")
    page = desk.get("/staff/feed").get_data(as_text=True)
    address = page.split("https://visit.example")[1].split('"')[0]
    stranger = Screen(desk.app)
    answer = stranger.get(address)
    assert answer.status_code == 200
    assert answer.mimetype == "text/calendar"
    assert b"BEGIN:VEVENT" in answer.data
    wrong = address.replace(".ics", "x.ics")
    assert [stranger.get(wrong).status_code for _ in range(25)][-1] == 429
    desk.post("/staff/feed", act="revoke")
    assert "Make an address" in text_of(desk.get("/staff/feed"))
    assert Screen(desk.app).get(address).status_code in (404, 429)
