"""What is kept of a booking and its guests: searched, read for a request of theirs, and erased.

Erasing empties the personal columns of rows, as the retention does when their time is over, and
leaves what ledgers count, which stand under a guest number alone.
"""

import unicodedata
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from sqlalchemy import Row, Table, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.guest_marks import marks_by_guest
from kiosk.figures.drinks import guest_gone
from kiosk.figures.figure import Unit
from kiosk.site.products import product_name
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.retention import OTHER_TICKET, personal_columns, ticket_kinds
from kiosk.store.rows import lock_guests
from kiosk.store.tables.tasting import pour_marks, pours, refusals
from kiosk.store.tables.tours import bookings, guests, marks, tours
from kiosk.words import reasons, units
from kiosk.words.catalogs import N_, Words

MOST = 50
"""Bookings that a search shows; a name of more is searched for with more letters."""
ERASED = "erased on request"
"""What the history says of a row that was emptied by `erase`."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept of a booking: its row, its tour's, and the rows and ledger entries of its guests."""

    booking: Row[Any]
    tour: Row[Any]
    guests: Sequence[Row[Any]]
    entries: Mapping[int, Sequence["KeptEntry"]]  # by guest
    erasable: bool  # whether any personal value is left


@dataclass(frozen=True, slots=True)
class KeptEntry:
    """An entry of a ledger about a guest: what it is by `ledger` and `kind`; `glass`, a product or recipe."""

    at: datetime
    ledger: str
    kind: str
    glass: str = ""
    volume_ul: int = 0
    reasons: Sequence[str] = ()


def search(
    session: Session, site: Site, day: date | None, number: int | None, name: str
) -> Sequence[tuple[Row[Any], Row[Any]]]:
    """Return the bookings that fit everything asked for, each with its tour, the newest first.

    `day` is a service day, `number` a guest's number on it, `name` a part of the booking's name,
    contact or ticket, or of a guest's name, without regard to case and accents. Nothing asked
    for gives nothing.
    """
    if day is None and not name:
        return []
    found = select(bookings.c.id).join(tours, tours.c.id == bookings.c.tour_id)
    if day is not None:
        start, end = site.day_bounds(day)
        of_day = select(guests.c.booking_id).where(guests.c.day == day)
        if number is not None:
            found = found.where(bookings.c.id.in_(of_day.where(guests.c.number == number)))
        else:
            starts = (tours.c.starts_at >= start) & (tours.c.starts_at < end)
            found = found.where(or_(starts, bookings.c.id.in_(of_day)))
    ids = list(session.scalars(found))
    if name:
        ids = _named(session, ids, name)
    pairs = [_booking(session, booking_id) for booking_id in sorted(ids, reverse=True)[:MOST]]
    return sorted(pairs, key=lambda pair: pair[1].starts_at, reverse=True)


def _named(session: Session, ids: Collection[int], name: str) -> list[int]:
    """Return those of some bookings in which a name occurs. Only rows within the retention have any."""
    b, g, wanted, among = bookings.c, guests.c, _plain(name), set(ids)
    texts = select(b.id, b.lead_name, b.contact, b.ticket).where(
        or_(b.lead_name.is_not(None), b.contact.is_not(None), b.ticket.is_not(None))
    )
    names = select(g.booking_id, g.first_name).where(g.first_name.is_not(None))
    every = [*session.execute(texts), *session.execute(names)]
    fits = {row[0] for row in every if any(wanted in _plain(text or "") for text in row[1:])}
    return list(fits & among)


def _plain(text: str) -> str:
    """Return a text without accents and capitals."""
    apart = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign)).casefold()


def _booking(session: Session, booking_id: int) -> tuple[Row[Any], Row[Any]]:
    booking = session.execute(select(bookings).where(bookings.c.id == booking_id)).one_or_none()
    if booking is None:
        raise NoSuchRow(bookings.name, booking_id)
    return booking, session.execute(select(tours).where(tours.c.id == booking.tour_id)).one()


def kept_of_booking(session: Session, booking_id: int) -> Kept:
    """Return what is kept of a booking and its guests. Raises NoSuchRow."""
    booking, tour = _booking(session, booking_id)
    of_booking = (
        select(guests).where(guests.c.booking_id == booking_id).order_by(guests.c.day, guests.c.number)
    )
    people = session.execute(of_booking).all()
    left = _left(session, bookings, booking).union(*(_left(session, guests, guest) for guest in people))
    entries = {guest.id: _entries(session, guest.id) for guest in people}
    return Kept(booking, tour, people, entries, bool(left))


def _entries(session: Session, guest_id: int) -> Sequence[KeptEntry]:
    p, m, r = pours.c, pour_marks.c, refusals.c
    came = select(m.pour_key).where(m.guest_id == guest_id)
    mine = select(p.key).where(or_(p.guest_id == guest_id, p.key.in_(came)))
    poured = select(p.at, p.recipe, p.product, p.volume_ul).where(p.key.in_(mine))
    entries = [
        KeptEntry(row.at, "marks", row.kind)
        for row in session.execute(select(marks).where(marks.c.guest_id == guest_id))
    ]
    entries += [
        KeptEntry(row.at, "pours", "poured", row.recipe or row.product, row.volume_ul)
        for row in session.execute(poured)
    ]
    entries += [
        KeptEntry(row.at, "pour_marks", row.kind)
        for row in session.execute(select(m.at, m.kind).where(m.pour_key.in_(mine)))
    ]
    entries += [
        KeptEntry(row.at, "refusals", "refused", row.product, row.volume_ul, row.reasons)
        for row in session.execute(select(refusals).where(r.guest_id == guest_id))
    ]
    return sorted(entries, key=lambda entry: entry.at)


def erase(
    session: Session, site: Site, booking_id: int, guest_id: int | None, *, by: int, at: datetime
) -> None:
    """Empty what is personal of a guest of a booking, or of the booking and all its guests.

    The allergens of guests who are still in the house, or of a booking that is still to come, stay
    until they have left or the day is over, because servers are warned by them. A guest's link ends.
    The session is a write transaction. Raises NoSuchRow.
    """
    booking, tour = _booking(session, booking_id)
    ids = session.scalars(select(guests.c.id).where(guests.c.booking_id == booking_id))
    wanted = [one for one in ids if guest_id in (None, one)]
    if guest_id is not None and not wanted:
        raise NoSuchRow(guests.name, guest_id)
    locked = lock_guests(session, wanted)
    marked = marks_by_guest(session, wanted)
    here = {
        one
        for one, row in locked.items()
        if row["allergens"] and row["day"] >= site.service_day(at) and not guest_gone(marked[one])
    }
    if guest_id is None:
        left = bool(locked) and all(guest_gone(marked[one]) for one in locked)
        over = left or booking.cancelled_at or site.service_day(tour.starts_at) < site.service_day(at)
        warns = {} if over else {"allergens": booking.allergens}
        _empty(session, bookings, booking, warns, by=by, at=at)
    for one, row in locked.items():
        kept = {"purged_at": row["purged_at"] or at}
        if one in here:
            kept["allergens"] = row["allergens"]
        _empty(session, guests, row, kept, by=by, at=at)


def _empty(
    session: Session, table: Table, row: Any, kept: Mapping[str, Any], *, by: int, at: datetime
) -> None:
    now, left = _mapping(row), _left(session, table, row)
    values = {**dict.fromkeys(left), **kept}
    if "ticket" in left and ticket_kinds(session):
        values["ticket"] = OTHER_TICKET
    if any(now[name] != value for name, value in values.items()):
        rows.change(session, table, now["id"], now["revision"], values, by=by, at=at, why=ERASED)


def _left(session: Session, table: Table, row: Any) -> set[str]:
    """Return the columns of a row with personal values; the kind of a ticket that rules name is none."""
    values = _mapping(row)
    left = {column.name for column in personal_columns(table) if values[column.name] is not None}
    return left - {"ticket"} if values.get("ticket") in ticket_kinds(session) else left


def _mapping(row: Any) -> Mapping[str, Any]:
    mapping: Mapping[str, Any] = getattr(row, "_mapping", row)
    return mapping


KINDS: Mapping[str, Mapping[str, str]] = {
    "marks": {
        "id_check": N_("ID checked"),
        "under_age": N_("under age"),
        "no_alcohol": N_("No alcohol today"),
        "no_alcohol_lifted": N_("Drinking after all"),
        "service_stopped": N_("service stopped"),
        "service_resumed": N_("service resumed"),
        "gone": N_("left the site"),
        "back": N_("came back to the site"),
        "liked": N_("liked a sample"),
        "declined": N_("declined a sample"),
        "briefed": N_("closed shoes and safety words acknowledged"),
        "tasted_elsewhere": N_("tasted elsewhere that day"),
        "void": N_("a mark entered by mistake was taken back"),
    },
    "pour_marks": {
        "void": N_("a pour entered by mistake was undone"),
        "not_served": N_("Poured, not served"),
        "cleared": N_("a pre-poured glass was removed"),
        "reassign": N_("a pour was moved to another guest"),
        "seated": N_("pre-poured"),
        "unfinished": N_("not finished or spat out"),
        "finished": N_("finished the glass"),
        "confirmed": N_("a pour that two tablets recorded was confirmed as another one"),
    },
    "pours": {"poured": N_("poured: {glass}, {size}")},
    "refusals": {"refused": N_("refused: {glass}, {size}. {reasons}")},
}
"""What each kind of entry says, by ledger."""


def described(entry: KeptEntry, site: Site, words: Words) -> str:
    """Return what an entry says, in a few words."""
    size = units.amount(Fraction(entry.volume_ul, 1000), Unit.ML, 2, words, site.units)
    why = " ".join(reasons.for_staff(code, site.policy, words) for code in entry.reasons)
    message = KINDS[entry.ledger].get(entry.kind, entry.kind)
    return words.gettext(message, glass=product_name(site, entry.glass, words), size=size, reasons=why)
