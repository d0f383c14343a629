"""Restrictions by which a manager tightens the rules for one service day; they end with the day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, bindparam, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.figures.drinks import DayRestriction, Room, ServicePolicy, is_stricter, tighten
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import day_restrictions
from kiosk.tasting.errors import TastingError
from kiosk.words.catalogs import N_

EVERY_ROOM = ""
_D = day_restrictions.c
FOR_A_ROOM = (
    _D.day == bindparam("day"),
    or_(_D.room == EVERY_ROOM, _D.room == bindparam("room")),
)
"""The restrictions of a day that concern a room."""


class NotStricter(TastingError):
    """A restriction may only tighten what holds already."""

    message = N_("This is not tighter than what already applies today.")


class UnknownRoom(TastingError):
    """A restriction is for a room of the site, or for every one."""

    message = N_("There is no room called {room}.")


class WhyMissing(TastingError):
    """A restriction is recorded with its reason."""

    message = N_("Say in a few words why.")


@dataclass(frozen=True, slots=True)
class GivenRestriction:
    """A restriction as it was given: for which room ("" every one), by whom, why."""

    restriction: DayRestriction
    room: str
    by: str
    why: str


def of_day(session: Session, day: date) -> list[GivenRestriction]:
    """Return every restriction given for a service day, in the order that they were given."""
    return of_days(session, day, day).get(day, [])


def of_days(session: Session, first: date, last: date) -> Mapping[date, list[GivenRestriction]]:
    """Return the restrictions given for each of some service days, both ends counted."""
    found: dict[date, list[GivenRestriction]] = defaultdict(list)
    for row in session.execute(_named().where(_D.day >= first, _D.day <= last).order_by(_D.at, _D.key)):
        found[row.day].append(_given(row))
    return found


def for_room(given: Iterable[GivenRestriction], room: str) -> list[DayRestriction]:
    """Return those restrictions that concern a room."""
    return [one.restriction for one in given if one.room in (EVERY_ROOM, room)]


def policy_of_day(session: Session, site: Site, room: str, day: date) -> ServicePolicy:
    """Return the rules of a room on a day with every restriction given for it."""
    return tighten(site.policy, for_room(of_day(session, day), room))


def check_restriction(session: Session, site: Site, room: str, restriction: DayRestriction, why: str) -> None:
    """Raise WhyMissing, UnknownRoom, or NotStricter where it tightens in no room that it is for."""
    if not why:
        raise WhyMissing()
    rooms = [one for one in site.rooms if room in (EVERY_ROOM, one)]
    if not rooms:
        raise UnknownRoom(room=room)
    if not any(_tightens(session, site, one, restriction) for one in rooms):
        raise NotStricter()


def tighten_for_day(
    session: Session, site: Site, origin: EntryOrigin, room: str, restriction: DayRestriction, why: str
) -> None:
    """Record a restriction for the service day of its instant. The caller has checked the manager's PIN.

    Sent again under its key it is recorded once. Raises what `check_restriction` raises.
    """
    if session.execute(select(_D.key).where(_D.key == origin.key)).first() is None:
        check_restriction(session, site, room, restriction, why)
    told = {
        "day": site.service_day(restriction.at),
        "room": room,
        "rule": restriction.rule,
        "most": restriction.most,
        "why": why,
    }
    values = {**origin.values(restriction.at, restriction.at), **told}
    ledgers.append(session, day_restrictions, values, ignoring={"at", "day", "device_id"})


def _tightens(session: Session, site: Site, room: str, restriction: DayRestriction) -> bool:
    day = site.service_day(restriction.at)
    here = Room(room, *site.day_bounds(day), site.zone)
    return is_stricter(policy_of_day(session, site, room, day), restriction, here)


def _named() -> Select[Any]:
    columns = (_D.key, _D.at, _D.day, _D.room, _D.rule, _D.most, _D.why)
    return select(*columns, staff.c.name).outerjoin(staff, staff.c.id == _D.by)


def _given(row: Any) -> GivenRestriction:
    return GivenRestriction(DayRestriction(row.rule, row.most, row.at), row.room, row.name or "", row.why)
