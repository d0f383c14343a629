"""Permits of staff, and that somebody is of age to serve by a document seen. No birth date is kept."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import insert as insert_into
from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.settings import Site
from kiosk.staff.errors import StaffError
from kiosk.staff.people import Member, name_order
from kiosk.store import rows
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import permits, staff
from kiosk.words.catalogs import N_

SOON = timedelta(days=30)
NO_END = date.max
POURING = frozenset({"guide", "bar", "manager"})
"""Roles whose people pour."""


class KindMissing(StaffError):
    """A permit is of some kind."""

    message = N_("Name the kind of permit, as the rules call it.")
    field = "kind"


class NumberMissing(StaffError):
    """A permit has a number."""

    message = N_("A permit has a number: enter it as it stands there.")
    field = "number"


class DaysTurned(StaffError):
    """A permit ends no earlier than it begins."""

    message = N_("Enter the first and the last day; the last is not before the first.")
    field = "valid_until"


class NobodyHere(StaffError):
    """A permit belongs to somebody who works here."""

    message = N_("Choose somebody who works here.")
    field = "person"


class NoAgeAsked(StaffError):
    """The rules ask no age of whoever pours."""

    message = N_("The rules of this site ask no age of whoever pours.")
    field = "person"


class WhyMissing(StaffError):
    """A permit is taken back with a reason."""

    message = N_("Say in a few words why.")
    field = "why"


@dataclass(frozen=True, slots=True)
class Permit:
    """A permit of somebody. `age` is the age that a document showed, 0 for any other permit."""

    id: int
    revision: int
    person_id: int
    name: str
    kind: str
    number: str
    valid_from: date
    valid_until: date

    @property
    def age(self) -> int:
        """The age that a document showed, or 0."""
        word, _, years = self.kind.partition("-")
        return int(years) if word == "age" and years.isdigit() else 0

    def holds(self, day: date) -> bool:
        """Say whether it holds on a day."""
        return self.valid_from <= day <= self.valid_until

    def ends_soon(self, day: date) -> bool:
        """Say whether it holds and ends within `SOON`."""
        return self.holds(day) and self.valid_until < day + SOON


def listed(session: Session, day: date) -> list[Permit]:
    """Return the permits of everybody who works here, by name; those that ended stand last."""
    p = permits.c
    found = session.execute(
        select(p.id, p.revision, p.staff_id, staff.c.name, p.kind, p.number, p.valid_from, p.valid_until)
        .join_from(permits, staff, p.staff_id == staff.c.id)
        .where(or_(staff.c.left_on.is_(None), staff.c.left_on > day))
    )
    every = [Permit(*row) for row in found]
    return sorted(every, key=lambda one: (one.valid_until < day, name_order(one.name), one.kind, one.id))


def lacking(
    policy: ServicePolicy, people: Iterable[Member], held: Collection[Permit], day: date
) -> list[str]:
    """Return the names of those who pour by their role and may not, for what the rules ask of them."""
    found = []
    for one in people:
        own = [permit for permit in held if permit.person_id == one.id and permit.holds(day)]
        permitted = not policy.server_permit or policy.server_permit in {permit.kind for permit in own}
        of_age = policy.server_age <= max((permit.age for permit in own), default=0)
        if POURING.intersection(one.roles) and not (permitted and of_age):
            found.append(one.name)
    return found


def add(
    session: Session,
    staff_id: int,
    kind: str,
    number: str,
    days: tuple[date | None, date | None],
    *,
    by: int,
    at: datetime,
) -> int:
    """Record a permit and who saw it, and return its id.

    `days` are its first and its last. Raises NobodyHere, KindMissing, NumberMissing, DaysTurned.
    """
    first, last = days
    if not kind:
        raise KindMissing()
    if not number:
        raise NumberMissing()
    if first is None or last is None or last < first:
        raise DaysTurned()
    return _record(session, staff_id, kind, number, (first, last), by=by, at=at)


def of_age(session: Session, site: Site, staff_id: int, *, by: int, at: datetime) -> int:
    """Record that `by` saw a document of somebody's age today; neither its number nor a birthday.

    Raises NobodyHere, NoAgeAsked.
    """
    if not site.policy.server_age:
        raise NoAgeAsked()
    days = (site.service_day(at), NO_END)
    return _record(session, staff_id, f"age-{site.policy.server_age}", "", days, by=by, at=at)


def take_back(
    session: Session, permit_id: int, revision: int, day: date, *, by: int, at: datetime, why: str
) -> None:
    """Let a permit hold no more from `day` on. Raises WhyMissing, Stale, NoSuchRow."""
    if not why:
        raise WhyMissing()
    ended = {"valid_until": day - timedelta(days=1)}
    rows.change(session, permits, permit_id, revision, ended, by=by, at=at, why=why)


def _record(
    session: Session,
    staff_id: int,
    kind: str,
    number: str,
    days: tuple[date, date],
    *,
    by: int,
    at: datetime,
) -> int:
    here = or_(staff.c.left_on.is_(None), staff.c.left_on > days[0])
    if session.execute(select(staff.c.id).where(staff.c.id == staff_id, here)).first() is None:
        raise NobodyHere()
    values = {"staff_id": staff_id, "kind": kind, "number": number}
    values |= {"valid_from": days[0], "valid_until": days[1]}
    permit_id = rows.insert(session, permits, values)
    seen = {"table_name": permits.name, "row_id": permit_id, "revision": 0, "act": "seen", "before": {}}
    session.execute(insert_into(history).values(**seen, at=at, by=by, why=""))
    return permit_id
