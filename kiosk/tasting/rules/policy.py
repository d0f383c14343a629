"""The service rules in force: the version confirmed last, and what a manager tightened for a service day.

A version is in force while the site's file is the same. A restriction is for a room or for all.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Column, Row, Select, bindparam, literal_column, or_, select
from sqlalchemy.orm import Session

from kiosk.entries.entries import EntryOrigin
from kiosk.entries.errors import Malformed
from kiosk.figures.drinks import DayRestriction, Room, ServicePolicy, is_stricter, tighten
from kiosk.site.policy_json import policy_body
from kiosk.site.settings import Site
from kiosk.store import ledgers
from kiosk.store.tables.staff import staff
from kiosk.store.tables.tasting import day_restrictions, policies
from kiosk.tasting.errors import TastingError, WhyMissing
from kiosk.words.catalogs import N_

NO_POLICY = "no_policy"
"""The reason against every pour with alcohol while no version is in force."""


@lru_cache(maxsize=8)
def digest(policy: ServicePolicy) -> str:
    """Return the digest of a policy's full text; cached, because every pour compares it."""
    return policy_body(policy)[1]


def newest(*columns: Column[Any]) -> Select[Any]:
    """Return the query for `columns` of the version confirmed last; one without a person never counts."""
    return (
        select(*columns)
        .where(policies.c.by.is_not(None))
        .order_by(policies.c.at.desc(), policies.c.key.desc())
        .limit(literal_column("1"))  # no parameter: see `bottles.shelf.LATEST`
    )


def in_force(session: Session, site: Site) -> Row[Any] | None:
    """Return the key, digest, instant (`at`) and person (`by`) of the version in force.

    None where none was confirmed or the site's file differs from it.
    """
    p = policies.c
    version = session.execute(newest(p.key, p.digest, p.at, p.by)).one_or_none()
    return version if version and version.digest == digest(site.policy) else None


def confirm(session: Session, site: Site, *, key: str, by: int, at: datetime) -> None:
    """Put the rules of the site's file in force. The caller has checked the licensee's PIN."""
    body, text_digest = policy_body(site.policy)
    values = {"digest": text_digest, "body": body, "basis": site.policy.basis}
    ledgers.append(session, policies, EntryOrigin(key, by, None).values(at, at) | values)


EVERY_ROOM = ""
_D = day_restrictions.c
FOR_A_ROOM = (
    _D.day == bindparam("day"),
    or_(_D.room == EVERY_ROOM, _D.room == bindparam("room")),
)
"""The conditions for the restrictions of a day in a room, with the parameters `day` and `room`."""


class NotStricter(TastingError):
    """A restriction that tightens nothing that applies already."""

    message = N_("This is not tighter than what already applies today.")


@dataclass(frozen=True, slots=True)
class GivenRestriction:
    """A restriction on record: its room ("" for every one), the manager who gave it, and the reason."""

    restriction: DayRestriction
    room: str
    by: str
    why: str


def of_day(session: Session, day: date) -> list[GivenRestriction]:
    """Return the restrictions on record for a service day, in the order of their recording."""
    return of_days(session, day, day).get(day, [])


def of_days(session: Session, first: date, last: date) -> Mapping[date, list[GivenRestriction]]:
    """Return the restrictions on record by service day, from `first` to `last`, both included."""
    by_day: dict[date, list[GivenRestriction]] = defaultdict(list)
    named = select(day_restrictions, staff.c.name).outerjoin(staff, staff.c.id == _D.by)
    of_span = named.where(_D.day >= first, _D.day <= last).order_by(_D.at, _D.key)
    for row in session.execute(of_span):
        restriction = DayRestriction(row.rule, row.most, row.at)
        by_day[row.day].append(GivenRestriction(restriction, row.room, row.name or "", row.why))
    return by_day


def for_room(given: Iterable[GivenRestriction], room: str) -> list[DayRestriction]:
    """Return the restrictions that apply in a room, of those `given`."""
    return [one.restriction for one in given if one.room in (EVERY_ROOM, room)]


def policy_of_day(session: Session, site: Site, room: str, day: date) -> ServicePolicy:
    """Return the site's service rules as they apply in a room on a day, with its restrictions."""
    return tighten(site.policy, for_room(of_day(session, day), room))


def check_restriction(session: Session, site: Site, room: str, restriction: DayRestriction, why: str) -> None:
    """Check a restriction. Raises WhyMissing, NotStricter where it tightens in no room, and Malformed."""
    if not why:
        raise WhyMissing()
    rooms = [one for one in site.rooms if room in (EVERY_ROOM, one)]
    if not rooms:
        raise Malformed(part="room")
    if not any(_tightens(session, site, one, restriction) for one in rooms):
        raise NotStricter()


def tighten_for_day(
    session: Session, site: Site, origin: EntryOrigin, room: str, restriction: DayRestriction, why: str
) -> None:
    """Record a restriction for the service day of its instant. The caller has checked the manager's PIN.

    An entry sent again with its key is recorded once. Raises what `check_restriction` raises.
    """
    if session.execute(select(_D.key).where(_D.key == origin.key)).first() is None:
        check_restriction(session, site, room, restriction, why)
    values = {
        **origin.values(restriction.at, restriction.at),
        "day": site.service_day(restriction.at),
        "room": room,
        "rule": restriction.rule,
        "most": restriction.most,
        "why": why,
    }
    ledgers.append(session, day_restrictions, values, ignoring={"at", "day", "device_id"})


def _tightens(session: Session, site: Site, room: str, restriction: DayRestriction) -> bool:
    day = site.service_day(restriction.at)
    here = Room(room, *site.day_bounds(day), site.zone)
    return is_stricter(policy_of_day(session, site, room, day), restriction, here)
