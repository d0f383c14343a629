"""Planning a tour: adding, changing, canceling and bringing it back.

A tour is a row, so that every former revision of it stays in the history.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from string import ascii_uppercase
from typing import Any

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.errors import EntryError, Malformed
from kiosk.figures.drinks import STARTS_AND_FINISHES, start_and_finish
from kiosk.site.settings import Site
from kiosk.staff.people import Member, members
from kiosk.staff.sign_offs import ROUTE_SKILL, not_withdrawn
from kiosk.store import ledgers, rows
from kiosk.store.errors import NoSuchRow
from kiosk.store.tables.staff import sign_offs, staff
from kiosk.store.tables.tasting import pours
from kiosk.store.tables.tours import bookings, flights, guests, steps, tours
from kiosk.words.catalogs import N_
from kiosk.words.errors import Fault, FormFaults

MOST_PLACES = 60
"""The places of the largest table that can be set for a tour."""

LATEST = timedelta(days=730)
ROUTE = "main"
"""The route of every tour: a site has one."""
LEADS = f"{ROUTE_SKILL}{ROUTE}"
"""The skill of a guide who is signed off to lead the route in a language."""

WHY: Mapping[str, str] = {
    "weather": N_("weather"),
    "few": N_("too few bookings"),
    "staff": N_("no guide"),
    "closed": N_("the house is closed"),
    "other": N_("another reason"),
    "merged": N_("merged with another tour"),
}
"""Why a tour is canceled; codes, because the history keeps them for good."""

MERGED = "merged"
"""The reason that a merge gives; nobody chooses it."""

NO_START = N_("“{typed}” is not a time that can be used. Enter day and time, like {example}.")
START_RANGE = N_("“{typed}” is out of range. Allowed: {first} to {last}.")
NO_LANGUAGE = N_("Choose at least one of: {allowed}.")
NO_GUIDE = N_("Choose a person who works here as guide or manager, or “none yet”.")
NOT_SIGNED_OFF = N_(
    "This guide has no sign-off to lead in: {missing}. Choose another guide, or tick that they may."
)
NO_FLIGHT = N_("Choose a flight that is in use, or “none yet”.")
NO_ROOM = N_("Choose one of: {allowed}.")
NO_PLACES = N_("“{typed}” is not possible. Allowed: a whole number from {least} to {most}.")
POURED = N_("This tour has pours on record, which count in its room: its room and its day stay.")
NUMBERED = N_("Guests of this tour are checked in: it stays on its day.")


class TourCanceled(EntryError):
    """A canceled tour takes no booking, no change and no step until it is brought back."""

    status = 409
    message = N_("This tour is canceled. Bring it back first.")


class TourStarted(EntryError):
    """A tour that has started cannot be canceled."""

    status = 409
    message = N_("This tour has started already: it cannot be canceled.")


class TourFaults(FormFaults[str]):
    """A tour that cannot be saved: a message with its facts by field."""

    message = N_("Not saved yet. What is wrong is marked below.")


@dataclass(frozen=True, slots=True)
class TourDraft:
    """A tour as typed. None stands for a time or a number that cannot be read; `typed` is as it was typed."""

    starts_at: datetime | None
    languages: tuple[str, ...]
    guide_id: int | None
    flight_id: int | None
    room: str
    places: int | None
    typed: Mapping[str, str]
    private: bool = False
    may_lead: bool = False  # the planner says that the guide may lead in all these languages


def lock_tour(session: Session, tour_id: int) -> Row[Any]:
    """Lock a tour's row until the transaction ends and return it. Raises NoSuchRow.

    The lock orders everything that its places allow.
    """
    row = session.execute(select(tours).where(tours.c.id == tour_id).with_for_update()).one_or_none()
    if row is None:
        raise NoSuchRow(tours.name, tour_id)
    return row


def lock_planned_tour(session: Session, tour_id: int) -> Row[Any]:
    """Lock a tour that is not canceled. Raises NoSuchRow and TourCanceled."""
    row = lock_tour(session, tour_id)
    if row.cancelled_at is not None:
        raise TourCanceled()
    return row


def people_booked(session: Session, tour_id: int, *, except_booking: int | None = None) -> int:
    """Return how many people a tour expects, without those of one booking."""
    b = bookings.c
    expected = (b.tour_id == tour_id, b.cancelled_at.is_(None), b.no_show_at.is_(None))
    coming = select(func.coalesce(func.sum(b.size), 0)).where(*expected)
    if except_booking is not None:
        coming = coming.where(b.id != except_booking)
    return int(session.execute(coming).scalar_one())


def guides(session: Session, site: Site, now: datetime) -> list[Member]:
    """Return the people who may guide a tour, by name."""
    return [one for one in members(session, site, now) if {"guide", "manager"}.intersection(one.roles)]


def flights_in_use(session: Session) -> Sequence[Any]:
    """Return id, name and names of the flights that are not archived, by name."""
    f = flights.c
    in_use = select(f.id, f.name, f.names).where(f.archived.is_(False))
    return session.execute(in_use.order_by(f.name)).all()


def add_tour(session: Session, site: Site, draft: TourDraft, *, by: int, at: datetime, **more: object) -> int:
    """Record a new tour under the next letter of its day and return its id; `more` are further values of it.

    Raises TourFaults.
    """
    _check(session, site, draft, None, at)
    assert draft.starts_at is not None
    day = site.service_day(draft.starts_at)
    letter = next(free_letters(session, site, [day])[day])
    sign_off_guide(session, site, draft, by=by, at=at)
    return rows.insert(session, tours, {**tour_values(draft), "letter": letter, "route": ROUTE, **more})


def change_tour(
    session: Session, site: Site, tour_id: int, draft: TourDraft, revision: int, *, by: int, at: datetime
) -> None:
    """Change a tour that was read at `revision`. Raises TourFaults, TourCanceled, NoSuchRow and Stale."""
    former = lock_planned_tour(session, tour_id)
    _check(session, site, draft, former, at)
    assert draft.starts_at is not None
    values, day = tour_values(draft), site.service_day(draft.starts_at)
    if day != site.service_day(former.starts_at):
        values["letter"] = next(free_letters(session, site, [day])[day])
    sign_off_guide(session, site, draft, by=by, at=at)
    rows.change(session, tours, tour_id, revision, values, by=by, at=at, why="planned")


def cancel_tour(session: Session, tour_id: int, revision: int, why: str, *, by: int, at: datetime) -> None:
    """Cancel a tour for a reason of `WHY`; its bookings stay with it.

    Raises NoSuchRow, TourCanceled, TourStarted, Malformed and Stale.
    """
    lock_planned_tour(session, tour_id)
    require_why(why)
    if "start" in tour_steps(session, tour_id):
        raise TourStarted()
    record_canceled(session, tour_id, revision, why, by=by, at=at)


def record_canceled(
    session: Session, tour_id: int, revision: int, why: str, *, by: int, at: datetime
) -> None:
    """Record that a tour, whose row is locked or was just read, is canceled. Raises NoSuchRow and Stale."""
    values = {"cancelled_at": at, "cancelled_why": why}
    rows.change(session, tours, tour_id, revision, values, by=by, at=at, why="canceled")


def require_why(why: str) -> None:
    """Raise Malformed for what is no reason to cancel a tour."""
    if why not in WHY or why == MERGED:
        raise Malformed(part="why")


def bring_back_tour(session: Session, tour_id: int, revision: int, *, by: int, at: datetime) -> None:
    """Plan a canceled tour again as it was. Raises NoSuchRow and Stale."""
    values = {"cancelled_at": None, "cancelled_why": None}
    rows.change(session, tours, tour_id, revision, values, by=by, at=at, why="brought back")


def tour_steps(session: Session, tour_id: int) -> Mapping[str, datetime]:
    """Return when a tour started and finished, by `start` and `finish`."""
    s = steps.c
    taken = select(s.kind, s.at).where(s.tour_id == tour_id, s.kind.in_(STARTS_AND_FINISHES))
    return start_and_finish((kind, at) for kind, at in session.execute(taken.order_by(s.at, s.key)))


def tour_values(draft: TourDraft) -> dict[str, Any]:
    """Return the columns of a tour that its form fills."""
    names = ("guide_id", "flight_id", "room", "places", "starts_at", "private")
    return {**{name: getattr(draft, name) for name in names}, "languages": list(draft.languages)}


def free_letters(session: Session, site: Site, days: Collection[date]) -> dict[date, Iterator[str]]:
    """Return the letters that no tour of a day has, in order, by the day; after Z come A2, B2 and so on."""
    begins, ends = site.day_bounds(min(days))[0], site.day_bounds(max(days))[1]
    between = select(tours.c.starts_at, tours.c.letter).where(
        tours.c.starts_at >= begins, tours.c.starts_at < ends
    )
    taken: dict[date, set[str]] = {day: set() for day in days}
    for starts_at, letter in session.execute(between):
        taken.setdefault(site.service_day(starts_at), set()).add(letter)
    return {day: _letters_but(taken[day]) for day in days}


def _letters_but(taken: Collection[str]) -> Iterator[str]:
    names = (f"{letter}{n if n > 1 else ''}" for n in range(1, 99) for letter in ascii_uppercase)
    return (name for name in names if name not in taken)


def languages_led(session: Session, today: date) -> dict[int, set[str]]:
    """Return the languages in which each person may lead tours on a day, by id.

    They are those that the person speaks by the list of staff, and those of a sign-off that holds.
    """
    s = sign_offs.c
    led = {one.id: set(one.languages) for one in session.execute(select(staff.c.id, staff.c.languages))}
    valid = or_(s.expires_on.is_(None), s.expires_on >= today)
    signed = select(s.staff_id, s.language).where(
        s.skill == LEADS, s.language.is_not(None), valid, not_withdrawn()
    )
    for staff_id, language in session.execute(signed.distinct()):
        led[staff_id].add(language)
    return led


def sign_off_guide(session: Session, site: Site, draft: TourDraft, *, by: int, at: datetime) -> None:
    """Record that the planner lets the guide of a tour lead in its languages, where that is not known yet."""
    if draft.guide_id is None or not draft.may_lead:
        return
    known = languages_led(session, site.service_day(at)).get(draft.guide_id, set())
    for language in draft.languages:
        if language not in known:
            entry = {"key": ledgers.new_key(), "at": at, "recorded_at": at, "by": by}
            entry |= {"staff_id": draft.guide_id, "skill": LEADS, "language": language}
            ledgers.append(session, sign_offs, entry)


def require_plannable(session: Session, site: Site, draft: TourDraft, now: datetime) -> None:
    """Check all of a new tour but its start. Raises TourFaults."""
    faults = dict(_faults(session, site, draft, None, now))
    if faults:
        raise TourFaults(faults)


def _check(session: Session, site: Site, draft: TourDraft, former: Row[Any] | None, now: datetime) -> None:
    faults = dict(_faults(session, site, draft, former, now))
    faults |= dict(_start_faults(session, site, draft, former, now))
    if faults:
        raise TourFaults(faults)


def _faults(
    session: Session, site: Site, draft: TourDraft, former: Row[Any] | None, now: datetime
) -> Iterator[tuple[str, Fault]]:
    if not draft.languages or not set(draft.languages) <= set(site.codes):
        yield "languages", (NO_LANGUAGE, {"allowed": site.codes})
    if draft.guide_id is not None and draft.guide_id not in {
        getattr(former, "guide_id", None),
        *(one.id for one in guides(session, site, now)),
    }:
        yield "guide", (NO_GUIDE, {})
    elif missing := _not_signed_off(session, site, draft, former, now):
        yield "may_lead", (NOT_SIGNED_OFF, {"missing": missing})
    if draft.flight_id is not None and draft.flight_id not in {
        getattr(former, "flight_id", None),
        *(one.id for one in flights_in_use(session)),
    }:
        yield "flight", (NO_FLIGHT, {})
    if draft.room not in site.rooms:
        yield "room", (NO_ROOM, {"allowed": site.rooms})
    least = max(1, people_booked(session, former.id)) if former else 1
    if draft.places is None or not least <= draft.places <= MOST_PLACES:
        facts = {"typed": draft.typed.get("places", ""), "least": least, "most": MOST_PLACES}
        yield "places", (NO_PLACES, facts)


def _not_signed_off(
    session: Session, site: Site, draft: TourDraft, former: Row[Any] | None, now: datetime
) -> list[str]:
    """Return the languages in which the guide of a draft may not lead yet and did not lead it before."""
    if draft.guide_id is None or draft.may_lead:
        return []
    led = languages_led(session, site.service_day(now)).get(draft.guide_id, set())
    if former is not None and former.guide_id == draft.guide_id:
        led |= set(former.languages)
    return [code for code in draft.languages if code in site.codes and code not in led]


def _start_faults(
    session: Session, site: Site, draft: TourDraft, former: Row[Any] | None, now: datetime
) -> Iterator[tuple[str, Fault]]:
    typed = draft.typed.get("starts_at", "")
    first, _ = site.day_bounds(site.service_day(now))
    last = site.local(now + LATEST)
    starts_at = draft.starts_at
    if starts_at is None:
        yield "starts_at", (NO_START, {"typed": typed, "example": f"{site.local(now):%Y-%m-%dT%H:%M}"})
        return
    moved = former is None or starts_at.astimezone(UTC) != former.starts_at
    if moved and not first.astimezone(UTC) <= starts_at.astimezone(UTC) <= last.astimezone(UTC):
        yield "starts_at", (START_RANGE, {"typed": typed, "first": first, "last": last})
    if former is None:
        return
    other_day = site.service_day(starts_at) != site.service_day(former.starts_at)
    poured = _any(session, pours.c.key, pours.c.tour_id == former.id)
    if other_day and (poured or _any(session, guests.c.id, guests.c.tour_id == former.id)):
        yield "starts_at", (POURED if poured else NUMBERED, {})
    if draft.room != former.room and poured:
        yield "room", (POURED, {})


def _any(session: Session, column: Any, condition: Any) -> bool:
    return session.execute(select(column).where(condition).limit(1)).first() is not None
