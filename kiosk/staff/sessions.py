"""Signing in by name and PIN on an enrolled device.

A try is recorded as failed before its PIN is checked, under the lock of that
person's row, and marked right afterwards: many tries at once count as many.
"""

import hmac
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, bindparam, case, delete, func, or_, select, update
from sqlalchemy import insert as insert_into
from sqlalchemy.orm import Session

from kiosk.site.secret import new_token
from kiosk.site.settings import Site
from kiosk.staff.devices import Device
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import ROLES, hash_pin, matches, name_order, set_pin
from kiosk.staff.waits import WRONG_KEPT, require_no_wait
from kiosk.store.engine import Store
from kiosk.store.tables.staff import devices, sessions, sign_ins, staff, staff_roles

IDLE = timedelta(minutes=60)
"""After so long without a page of theirs a person is no longer signed in."""
SHIFT = timedelta(hours=12)
"""The longest that a sign-in lasts."""
KEPT = timedelta(days=3)  # so that for entries sent late it is still known that a PIN was checked
# Roles that always need the PIN: a device may lie about unattended.
PIN_ALWAYS = frozenset({"manager", "production"})


@dataclass(frozen=True, slots=True)
class Person:
    """A person signed in on the device that asks since `started_at`.

    `seen_at` is when they last opened a page there. With a `pin_temporary` they open no page before they
    have chosen a PIN of their own.
    """

    id: int
    name: str
    roles: frozenset[str]
    languages: tuple[str, ...]
    started_at: datetime
    seen_at: datetime
    pin_temporary: bool = False

    def has(self, *roles: str) -> bool:
        """Return whether this person has one of the roles."""
        return not self.roles.isdisjoint(roles)

    @property
    def sees_other_days(self) -> bool:
        """Whether they see names and needs of guests of other days than today."""
        return self.has("guide", "manager")


@dataclass(frozen=True, slots=True)
class SignedInPerson:
    """A person who signed in on a device. `by_tap`: they may act there after a tap, without a PIN."""

    id: int
    name: str
    by_tap: bool


def select_by_cookies(*columns: ColumnElement[Any]) -> Select[Any]:
    """Build a query for the device and the sign-in of two cookies; its parameters: `cookie_parameters`."""
    lasting = and_(
        sessions.c.device_id == devices.c.id,
        sessions.c.token_hash == bindparam("person"),
        sessions.c.started_at > bindparam("shift"),
        sessions.c.seen_at > bindparam("idle"),
    )
    return (
        select(
            devices.c.id.label("device_id"), staff.c.id.label("staff_id"), staff.c.languages, staff.c.left_on
        )
        .add_columns(*columns)
        .select_from(devices.outerjoin(sessions, lasting).outerjoin(staff, staff.c.id == sessions.c.staff_id))
        .where(devices.c.token_hash == bindparam("device"), devices.c.enrolled_at.is_not(None))
    )


WHO_ASKS = (
    select_by_cookies(devices.c.name.label("device_name"), devices.c.kind, devices.c.room)
    .add_columns(staff.c.name, staff.c.pin_temporary, staff_roles.c.role)
    .add_columns(sessions.c.started_at, sessions.c.seen_at)
    .outerjoin(staff_roles, staff_roles.c.staff_id == staff.c.id)
    .where(devices.c.revoked_at.is_(None))
)
"""The one query of the guard: a row for each role of the person, one without a person."""


def cookie_parameters(device_hash: str, person_hash: str, now: datetime) -> dict[str, object]:
    """Return the parameters of a query by cookies, given the keyed hashes of the two."""
    return {"device": device_hash, "person": person_hash, "shift": now - SHIFT, "idle": now - IDLE}


def recognise(
    session: Session, site: Site, device: str, person: str, now: datetime
) -> tuple[Device | None, Person | None]:
    """Return the enrolled device and the signed-in person of two cookies, by one query."""
    asked = cookie_parameters(site.keyed_hash("device", device), site.keyed_hash("person", person), now)
    rows = session.connection().execute(WHO_ASKS, asked).all()
    if not rows:
        return None, None
    first = rows[0]
    here = Device(first.device_id, first.device_name, first.kind, first.room)
    return here, _person(rows, site.local(now).date())


def _person(rows: Sequence[Row[Any]], today: date) -> Person | None:
    first = rows[0]
    if first.staff_id is None or (first.left_on and first.left_on <= today):
        return None
    roles = frozenset(row.role for row in rows if row.role)
    languages = tuple(first.languages)
    times = (first.started_at, first.seen_at)
    return Person(first.staff_id, first.name, roles, languages, *times, first.pin_temporary)


def entry_proof(site: Site, staff_id: int, device_id: int, started_at: datetime) -> str:
    """Return what entries made in a sign-in carry as its proof: 32 hex digits that only the server makes.

    The page of a person signed in has it, and no page of anybody else; so an entry that is sent after
    they signed out still shows that it was made while they were signed in on that device.
    """
    of = f"{staff_id} {device_id} {started_at.astimezone(UTC).isoformat()}"
    return site.keyed_hash("entries", of)[:32]


def note_seen(session: Session, site: Site, person: str, now: datetime) -> None:
    """Push back the idle limit of the sign-in of a cookie."""
    by_token = sessions.c.token_hash == site.keyed_hash("person", person)
    session.execute(update(sessions).where(by_token).values(seen_at=now))


def is_proven(session: Session, site: Site, staff_id: int, device_id: int, at: datetime, proof: str) -> bool:
    """Return whether `proof` is of a sign-in of this person on this device that lasted at `at`.

    A sign-in lasts from its PIN until they sign out, at most a shift. It may be over by now: a tablet's
    queue may arrive later.
    """
    starts = sign_ins_at(session, staff_id, device_id, at)
    return any(hmac.compare_digest(proof, entry_proof(site, staff_id, device_id, one)) for one in starts)


def sign_ins_at(session: Session, staff_id: int, device_id: int, at: datetime) -> Sequence[datetime]:
    """Return when the sign-ins of a person on a device began that lasted at `at`."""
    tries = sign_ins.c
    lasted = select(tries.at).where(
        tries.staff_id == staff_id,
        tries.device_id == device_id,
        tries.ok.is_(True),
        tries.at > at - SHIFT,
        tries.at <= at,
        or_(tries.signed_out_at.is_(None), tries.signed_out_at > at),
    )
    return session.scalars(lasted).all()


def sign_in(store: Store, site: Site, staff_id: int, device_id: int, pin: str, now: datetime) -> str:
    """Check a PIN and return the token of the new sign-in. Raises StaffError as `check_pin` does."""
    check_pin(store, site, staff_id, device_id, pin, now)
    with store.write() as session:
        forget(session, now)
        return _open(session, site, staff_id, device_id, started_at=now, now=now)


def check_pin(store: Store, site: Site, staff_id: int, device_id: int, pin: str, now: datetime) -> None:
    """Check a PIN, at a sign-in or once more before a decision of weight.

    Raises StaffError: MUST_WAIT, without checking the PIN, while a wait lasts;
    WRONG_PIN for a wrong PIN, an unknown person, or one who left.
    """
    with store.write() as session:
        attempt_id, pin_hash = _begin(session, staff_id, device_id, now, site.local(now).date())
    if not matches(pin, pin_hash, site):
        raise StaffError(Refusal.WRONG_PIN)
    with store.write() as session:
        session.execute(update(sign_ins).where(sign_ins.c.id == attempt_id).values(ok=True))


def change_own_pin(
    store: Store, site: Site, person: Person, token: str, pin: str, pin_again: str, now: datetime
) -> None:
    """Give a person the PIN that they chose; their sign-ins elsewhere end, that of `token` lasts.

    Raises StaffError: PINS_DIFFER, PIN_FORMAT, PIN_TRIVIAL, PIN_UNCHANGED.
    """
    if pin != pin_again:
        raise StaffError(Refusal.PINS_DIFFER)
    pin_hash = hash_pin(pin, site)
    with store.read() as session:
        present = session.scalar(select(staff.c.pin_hash).where(staff.c.id == person.id)) or ""
    if matches(pin, present, site):
        raise StaffError(Refusal.PIN_UNCHANGED)
    keep = site.keyed_hash("person", token)
    with store.write() as session:
        set_pin(session, person.id, pin_hash, now, temporary=False, by=person.id, keep=keep)


def step_in(session: Session, site: Site, staff_id: int, device_id: int, now: datetime) -> str | None:
    """Return a token for a person whose sign-in on this device still lasts, else None.

    Several people can so share a tablet: a tap changes who acts, and the PIN is
    asked again after that person's own idle time.
    """
    if staff_id not in {person_id for person_id, _name in may_step_in(session, device_id, now)}:
        return None
    began = session.scalar(
        select(sessions.c.started_at)
        .where(sessions.c.staff_id == staff_id, sessions.c.device_id == device_id)
        .order_by(sessions.c.started_at.desc())
        .limit(1)
    )
    return _open(session, site, staff_id, device_id, started_at=began or now, now=now)


def may_step_in(session: Session, device_id: int, now: datetime) -> list[tuple[int, str]]:
    """Return id and name of each person who may act on this device after a tap."""
    return [(one.id, one.name) for one in signed_in_people(session, device_id, now) if one.by_tap]


def signed_in_people(
    session: Session, device_id: int, now: datetime, roles: Collection[str] = ROLES
) -> list[SignedInPerson]:
    """Return the people of some `roles` signed in on this device in this shift, by name."""
    guarded = select(staff_roles.c.staff_id).where(staff_roles.c.role.in_(PIN_ALWAYS))
    seen_at = func.max(sessions.c.seen_at)
    signed_in_rows = session.execute(
        select(staff.c.id, staff.c.name, seen_at.label("seen_at"), staff.c.id.in_(guarded).label("guarded"))
        .join(sessions, sessions.c.staff_id == staff.c.id)
        .where(
            sessions.c.device_id == device_id,
            sessions.c.started_at > now - SHIFT,
            staff.c.id.in_(select(staff_roles.c.staff_id).where(staff_roles.c.role.in_(roles))),
        )
        .group_by(staff.c.id, staff.c.name)
    )
    people = [
        SignedInPerson(row.id, row.name, not row.guarded and row.seen_at > now - IDLE)
        for row in signed_in_rows
    ]
    return sorted(people, key=lambda person: name_order(person.name))


def sign_out(session: Session, staff_id: int, device_id: int, now: datetime) -> None:
    """End every sign-in of this person on this device, and keep when, for entries that come later."""
    s, tries = sessions.c, sign_ins.c
    session.execute(delete(sessions).where(s.staff_id == staff_id, s.device_id == device_id))
    lasting = (tries.ok.is_(True), tries.signed_out_at.is_(None))
    here = update(sign_ins).where(tries.staff_id == staff_id, tries.device_id == device_id, *lasting)
    session.execute(here.values(signed_out_at=now))


def forget(session: Session, now: datetime) -> None:
    """Delete right PINs after `KEPT`, wrong ones after `WRONG_KEPT`, sign-ins after a shift."""
    kept_from = case((sign_ins.c.ok, now - KEPT), else_=now - WRONG_KEPT)
    session.execute(delete(sign_ins).where(sign_ins.c.at < kept_from))
    session.execute(delete(sessions).where(sessions.c.started_at < now - SHIFT))


def _begin(session: Session, staff_id: int, device_id: int, now: datetime, today: date) -> tuple[int, str]:
    """Record a failed try and return its id with the PIN's hash."""
    person = session.execute(
        select(staff.c.pin_hash, staff.c.left_on).where(staff.c.id == staff_id).with_for_update()
    ).one_or_none()
    if person is None or (person.left_on and person.left_on <= today):
        raise StaffError(Refusal.WRONG_PIN)
    require_no_wait(session, staff_id, device_id, now)
    values = {"at": now, "staff_id": staff_id, "device_id": device_id, "ok": False}
    attempt = session.execute(insert_into(sign_ins).values(values).returning(sign_ins.c.id))
    return attempt.scalar_one(), person.pin_hash


def _open(
    session: Session, site: Site, staff_id: int, device_id: int, *, started_at: datetime, now: datetime
) -> str:
    token = new_token()
    values = {"token_hash": site.keyed_hash("person", token), "staff_id": staff_id, "device_id": device_id}
    session.execute(insert_into(sessions).values(**values, started_at=started_at, seen_at=now))
    return token
