"""Permits of staff, and proof of age that a manager saw. No birth date is kept."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import insert as insert_into
from sqlalchemy import select
from sqlalchemy.orm import Session

from kiosk.figures.drinks import ServicePolicy
from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import Member, name_order, works_here
from kiosk.store import rows
from kiosk.store.tables.shared import history
from kiosk.store.tables.staff import permits, staff

SOON = timedelta(days=30)
NO_END = date.max
"""Last day of a proof of age."""
POURING = frozenset({"guide", "bar", "manager"})
"""Roles that pour."""


@dataclass(frozen=True, slots=True)
class Permit:
    """A person's permit, or the proof of age that a manager saw."""

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
        """The age in years that a document proved; 0 for any other permit."""
        word, _, years = self.kind.partition("-")
        return int(years) if word == "age" and years.isdigit() else 0

    def is_valid(self, day: date) -> bool:
        """Return whether it is valid on a day."""
        return self.valid_from <= day <= self.valid_until

    def ends_soon(self, day: date) -> bool:
        """Return whether it is valid on a day and ends within `SOON` after it."""
        return self.is_valid(day) and self.valid_until < day + SOON


def list_permits(session: Session, day: date) -> list[Permit]:
    """Return the permits of the people who work here on a day, by name; ended ones last."""
    p = permits.c
    rows_by_person = session.execute(
        select(p.id, p.revision, p.staff_id, staff.c.name, p.kind, p.number, p.valid_from, p.valid_until)
        .join_from(permits, staff, p.staff_id == staff.c.id)
        .where(works_here(day))
    )
    every = [Permit(*row) for row in rows_by_person]
    return sorted(every, key=lambda one: (one.valid_until < day, name_order(one.name), one.kind, one.id))


def names_lacking_permit(
    policy: ServicePolicy, people: Iterable[Member], held: Collection[Permit], day: date
) -> list[str]:
    """Return the names of people whose role lets them pour but who lack the permit or proof of age."""
    names = []
    for person in people:
        valid = [permit for permit in held if permit.person_id == person.id and permit.is_valid(day)]
        permitted = not policy.server_permit or policy.server_permit in {permit.kind for permit in valid}
        of_age = policy.server_age <= max((permit.age for permit in valid), default=0)
        if POURING.intersection(person.roles) and not (permitted and of_age):
            names.append(person.name)
    return names


def add_permit(
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

    `days` are its first and its last. Raises StaffError: PERSON_MISSING, KIND_MISSING,
    NUMBER_MISSING, DAYS_REVERSED.
    """
    if not kind:
        raise StaffError(Refusal.KIND_MISSING)
    if not number:
        raise StaffError(Refusal.NUMBER_MISSING)
    first, last = days
    if first is None or last is None or last < first:
        raise StaffError(Refusal.DAYS_REVERSED)
    permit = {"kind": kind, "number": number, "valid_from": first, "valid_until": last}
    return _record(session, staff_id, permit, by=by, at=at)


def record_age_proof(session: Session, site: Site, staff_id: int, *, by: int, at: datetime) -> int:
    """Record that `by` saw proof of a staff member's age on the day of `at`, and return the record's id.

    Neither a document's number nor a birth date is kept. Raises StaffError: PERSON_MISSING, NO_AGE_LIMIT.
    """
    if not site.policy.server_age:
        raise StaffError(Refusal.NO_AGE_LIMIT)
    valid = {"valid_from": site.service_day(at), "valid_until": NO_END}
    proof = {"kind": f"age-{site.policy.server_age}", "number": "", **valid}
    return _record(session, staff_id, proof, by=by, at=at)


def revoke_permit(
    session: Session, permit_id: int, revision: int, day: date, *, by: int, at: datetime, why: str
) -> None:
    """End a permit before `day`. Raises StaffError (REASON_MISSING), Stale, NoSuchRow."""
    if not why:
        raise StaffError(Refusal.REASON_MISSING)
    ended = {"valid_until": day - timedelta(days=1)}
    rows.change(session, permits, permit_id, revision, ended, by=by, at=at, why=why)


def _record(session: Session, staff_id: int, permit: dict[str, Any], *, by: int, at: datetime) -> int:
    present = select(staff.c.id).where(staff.c.id == staff_id, works_here(permit["valid_from"]))
    if session.execute(present).first() is None:
        raise StaffError(Refusal.PERSON_MISSING)
    permit_id = rows.insert(session, permits, {"staff_id": staff_id, **permit})
    seen = {"table_name": permits.name, "row_id": permit_id, "revision": 0, "act": "seen", "before": {}}
    session.execute(insert_into(history).values(**seen, at=at, by=by, why=""))
    return permit_id
