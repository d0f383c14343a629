"""Devices: a one-time code is exchanged for a cookie that identifies the device.

Only keyed hashes are kept. Until its code is used a device's `token_hash` is
that of the code; from then on that of the token in its cookie.
"""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, Select, case, delete, select
from sqlalchemy.orm import Session

from kiosk.site.secret import new_token
from kiosk.site.settings import Site
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import add_person, has_people, hash_pin, one_line, require_distinct, require_known
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables.staff import devices, sessions
from kiosk.words.catalogs import N_

KINDS = {
    "tablet": N_("staff tablet or phone"),
    "kiosk": N_("guests' screen"),
    "wall": N_("wall screen"),
}
"""What a one-time code can make of a browser."""
SENDER = N_("instrument that sends readings")
CODE_LIFE = timedelta(minutes=30)
# No 0, 1, I, L, O, U: nothing that is misread from paper or heard wrongly.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH = 8  # 39 bits: half an hour is far too short to try them
LONGEST_NAME = 60
STATES = ("enrolled", "waiting", "revoked")
# No role contains another, and the person who starts a site alone does everything at first.
FIRST_ROLES = ("guide", "bar", "production", "manager")


@dataclass(frozen=True, slots=True)
class Device:
    """An enrolled device. `kind`: tablet, kiosk, wall, instrument, feed."""

    id: int
    name: str
    kind: str
    room: str | None


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A device just enrolled, with the token for its cookie."""

    id: int
    kind: str
    token: str


def new_code(
    session: Session,
    site: Site,
    name: str,
    kind: str,
    room: str | None,
    now: datetime,
    *,
    by: int | None = None,
) -> str:
    """Return a one-time code that enrols one device, written in two groups.

    A device of that name which is not enrolled (never, or no longer) gets a new
    code. Raises StaffError: NAME_MISSING, UNKNOWN_CHOICE, NAME_ALIKE, and NAME_TAKEN for
    the name of an enrolled device.
    """
    name = one_line(name, LONGEST_NAME)
    require_known({kind}, KINDS)
    if room:
        require_known({room}, site.rooms)
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    values = {
        "name": name,
        "kind": kind,
        "room": room or None,
        "token_hash": site.keyed_hash("code", code),
        "code_until": now + CODE_LIFE,
        "enrolled_at": None,
        "revoked_at": None,
    }
    former = session.execute(select(devices).where(devices.c.name == name)).one_or_none()
    if former is None:
        require_distinct(name, session.scalars(select(devices.c.name)))
        rows.insert(session, devices, values)
    elif former.enrolled_at and not former.revoked_at:
        raise StaffError(Refusal.NAME_TAKEN, name=name)
    else:
        rows.change(session, devices, former.id, former.revision, values, by=by, at=now, why="new code")
    return f"{code[:4]}-{code[4:]}"


def enrol(session: Session, site: Site, code: str, now: datetime) -> Enrolled:
    """Exchange a one-time code for the device's token. Raises StaffError: CODE_REFUSED."""
    device = session.execute(_waiting_for(site, code, now)).one_or_none()
    if device is None:
        raise StaffError(Refusal.CODE_REFUSED)
    token = new_token()
    values = {"token_hash": site.keyed_hash("device", token), "code_until": None, "enrolled_at": now}
    try:
        rows.change(session, devices, device.id, device.revision, values, by=None, at=now, why="enrolled")
    except Stale as first:
        raise StaffError(Refusal.CODE_REFUSED) from first
    return Enrolled(device.id, device.kind, token)


def require_valid_code(session: Session, site: Site, code: str, now: datetime) -> None:
    """Raise StaffError (CODE_REFUSED) for a code that enrols nothing; reads only."""
    if session.execute(_waiting_for(site, code, now)).first() is None:
        raise StaffError(Refusal.CODE_REFUSED)


def _waiting_for(site: Site, code: str, now: datetime) -> Select[Any]:
    plain = "".join(sign for sign in code.upper() if sign in ALPHABET)
    return select(devices.c.id, devices.c.kind, devices.c.revision).where(
        devices.c.token_hash == site.keyed_hash("code", plain),
        devices.c.enrolled_at.is_(None),
        devices.c.revoked_at.is_(None),
        devices.c.code_until > now,
    )


def enrol_with_first_manager(
    session: Session,
    site: Site,
    *,
    code: str,
    name: str,
    pin: str,
    pin_again: str,
    language: str,
    now: datetime,
) -> Enrolled:
    """Enrol a device; on a site without people record its first manager too, or neither.

    Raises StaffError; rolling back the transaction then makes the code valid again.
    """
    enrolled = enrol(session, site, code, now)
    if not has_people(session):
        if pin != pin_again:
            raise StaffError(Refusal.PINS_DIFFER)
        pin_hash = hash_pin(pin, site)  # slow, but no pour can be waiting yet
        add_person(session, site, name, pin_hash, FIRST_ROLES, (language,), now)
    return enrolled


def is_token(session: Session, token_hash: str) -> bool:
    """Return whether a keyed hash is that of a device's cookie, enrolled or revoked since."""
    known = select(devices.c.id).where(devices.c.token_hash == token_hash, devices.c.enrolled_at.is_not(None))
    return session.execute(known).first() is not None


def new_instrument(session: Session, site: Site, name: str, now: datetime) -> Enrolled:
    """Record an instrument that sends readings and return its token, which is shown once.

    The token opens no page as a cookie: its hash is made for another use.
    Raises StaffError: NAME_MISSING, NAME_TAKEN, NAME_ALIKE.
    """
    name = one_line(name, LONGEST_NAME)
    require_distinct(name, session.scalars(select(devices.c.name)))
    token = new_token()
    values = {"name": name, "kind": "instrument", "token_hash": site.keyed_hash("instrument", token)}
    return Enrolled(rows.insert(session, devices, {**values, "enrolled_at": now}), "instrument", token)


def find_instrument(session: Session, site: Site, token: str) -> Device | None:
    """Return the instrument that a token belongs to, None for any other token or a revoked one."""
    d = devices.c
    row = session.execute(
        select(d.id, d.name, d.kind, d.room).where(
            d.token_hash == site.keyed_hash("instrument", token),
            d.kind == "instrument",
            d.enrolled_at.is_not(None),
            d.revoked_at.is_(None),
        )
    ).one_or_none()
    return Device(*row) if row else None


def revoke(session: Session, device_id: int, revision: int, now: datetime, *, by: int | None) -> None:
    """Bar a device from now on and end every sign-in on it. Raises `Stale`."""
    rows.change(session, devices, device_id, revision, {"revoked_at": now}, by=by, at=now, why="revoked")
    session.execute(delete(sessions).where(sessions.c.device_id == device_id))


def list_devices(session: Session) -> Sequence[Row[Any]]:
    """Return every device with its `state`: enrolled ones, then waiting, then revoked, each by name."""
    d = devices.c
    states = [(d.revoked_at.is_not(None), "revoked"), (d.enrolled_at.is_not(None), "enrolled")]
    every = session.execute(
        select(devices, case(*states, else_="waiting").label("state")).order_by(d.name)
    ).all()
    return sorted(every, key=lambda device: STATES.index(device.state))
