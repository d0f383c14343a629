"""The tours as an iCalendar feed (RFC 5545) under a secret address of each person, which can be revoked.

The address is made from the site's secret and kept nowhere; a new link number ends the old address. The
feed names no guest and no member of staff: a calendar service reads it. Times are in UTC, so that every
calendar shows the right hour on both sides of a change of the clock.
"""

import hmac
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.tours.timetable import Stop
from kiosk.site.settings import Site
from kiosk.staff.people import works_here
from kiosk.store import rows
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tours import feeds
from kiosk.tours.day import tours_between
from kiosk.tours.planning.effects import walk_of
from kiosk.words.catalogs import N_, Words

BACK, AHEAD = timedelta(days=14), timedelta(days=180)
"""How far the feed reaches."""
REFRESH = timedelta(hours=1)
SUMMARY = N_("Tour {letter} · {languages} · {booked} of {places}")
MAC_DIGITS = 40


def feed_mac(site: Site, staff_id: int, link_no: int) -> str:
    """Return the secret part of the address of a person's feed: 160 bits of HMAC-SHA256 as hex."""
    text = b"feed:%d:%d" % (staff_id, link_no)
    return hmac.digest(site.secret, text, "sha256").hex()[:MAC_DIGITS]


def feed_of(session: Session, site: Site, staff_id: int) -> str | None:
    """Return the secret part of the address of a person's feed, None for one who has none."""
    f = feeds.c
    row = session.execute(select(feeds).where(f.staff_id == staff_id, f.revoked_at.is_(None))).one_or_none()
    return None if row is None else feed_mac(site, staff_id, row.link_no)


def renew_feed(session: Session, staff_id: int, *, by: int, at: datetime) -> None:
    """Give a person a feed with a new address; the old one ends."""
    row = session.execute(select(feeds).where(feeds.c.staff_id == staff_id)).one_or_none()
    if row is None:
        rows.insert(session, feeds, {"staff_id": staff_id, "link_no": 0})
        return
    values = {"link_no": row.link_no + 1, "revoked_at": None}
    rows.change(session, feeds, row.id, row.revision, values, by=by, at=at, why="renewed")


def revoke_feed(session: Session, staff_id: int, *, by: int, at: datetime) -> None:
    """End the feed of a person; nothing where there is none."""
    f = feeds.c
    row = session.execute(select(feeds).where(f.staff_id == staff_id, f.revoked_at.is_(None))).one_or_none()
    if row is not None:
        rows.change(session, feeds, row.id, row.revision, {"revoked_at": at}, by=by, at=at, why="revoked")


def reader_of_feed(session: Session, site: Site, staff_id: int, mac: str, now: datetime) -> str | None:
    """Return the language of the person whose feed an address opens; None for a wrong or ended address."""
    alive = (
        select(feeds.c.link_no, staff.c.languages)
        .join_from(feeds, staff, staff.c.id == feeds.c.staff_id)
        .where(feeds.c.staff_id == staff_id, feeds.c.revoked_at.is_(None))
        .where(works_here(site.local(now).date()))
    )
    row = session.execute(alive).one_or_none()
    if row is None or not hmac.compare_digest(mac.encode(), feed_mac(site, staff_id, row.link_no).encode()):
        return None
    return next((code for code in row.languages if code in site.codes), site.codes[0])


def calendar(session: Session, site: Site, route: Sequence[Stop], words: Words, now: datetime) -> bytes:
    """Return the tours around now as an iCalendar document."""
    document = Calendar()
    document.add("prodid", f"-//Kiosk//{site.key}//")
    document.add("version", "2.0")
    document.add("method", "PUBLISH")
    document.add("x-wr-calname", site.name)
    document.add("refresh-interval", REFRESH, parameters={"value": "DURATION"})
    for tour in tours_between(session, now - BACK, now + AHEAD):
        event = Event()
        event.add("uid", f"tour-{tour.id}@{site.key}")
        event.add("dtstamp", now.astimezone(UTC))
        event.add("dtstart", tour.starts_at)
        event.add("dtend", max(walk_of(tour, route).ends, tour.starts_at + timedelta(minutes=5)))
        event.add("sequence", tour.revision - 1)
        event.add("status", "CONFIRMED" if tour.cancelled_at is None else "CANCELLED")
        event.add("location", site.name)
        facts = {"letter": tour.letter, "languages": ", ".join(tour.languages)}
        event.add(
            "summary", words.gettext(SUMMARY, booked=str(tour.booked), places=str(tour.places), **facts)
        )
        document.add_component(event)
    return bytes(document.to_ical())
