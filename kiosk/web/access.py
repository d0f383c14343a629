"""Who may open what: every view says so, and the app refuses to start otherwise.

A device is known by the cookie that it was given when it was enrolled, a person
by the cookie of a sign-in on that device. Without a device the staff pages do
not exist; a guests' device (`GUEST_ONLY`) sees guests' pages and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, TypeVar, cast

from flask import Flask, current_app, g, redirect, request, url_for
from sqlalchemy import Row, Select, and_, bindparam, select, update
from sqlalchemy.orm import Session
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import Forbidden, NotFound, Unauthorized
from werkzeug.wrappers import Response

from kiosk.site.secret import hashed
from kiosk.store.errors import Unavailable
from kiosk.store.tables import staff as tables
from kiosk.web.context import now, site_context

ANYONE = "anyone"  # guests too
DEVICE = "device"  # an enrolled device, somebody signed in or not
STRANGER = "stranger"  # a device that is not enrolled yet
SENDER = "sender"  # whoever sends taps: the view finds out in the transaction that records them
INSTRUMENT = "instrument"  # a device that shows its own token, never a cookie
ROLES = ("guide", "bar", "trainee", "production", "manager")
KNOWN = frozenset({ANYONE, DEVICE, STRANGER, SENDER, INSTRUMENT, *ROLES})

DEVICE_COOKIE = "kiosk_device"
PERSON_COOKIE = "kiosk_person"
GUEST_ONLY = frozenset({"kiosk", "instrument", "feed"})
IDLE = timedelta(minutes=60)
SHIFT = timedelta(hours=12)
SEEN_STEP = timedelta(minutes=1)

View = TypeVar("View", bound=Callable[..., Any])


class NotDeclared(RuntimeError):
    """A view does not say who may open it; the app must not start."""


@dataclass(frozen=True, slots=True)
class Device:
    """An enrolled device. `kind`: tablet, kiosk, wall, instrument, feed."""

    id: int
    name: str
    kind: str
    room: str | None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody signed in on this device."""

    id: int
    name: str
    roles: frozenset[str]
    languages: tuple[str, ...]

    def has(self, *roles: str) -> bool:
        """Say whether this person has one of the roles."""
        return not self.roles.isdisjoint(roles)


def _who_asks() -> Select[Any]:
    """Build the one query of the guard: a row for each role of the person, one without a person."""
    devices, sessions, staff, roles = tables.devices, tables.sessions, tables.staff, tables.staff_roles
    lasting = and_(
        sessions.c.device_id == devices.c.id,
        sessions.c.token_hash == bindparam("person"),
        sessions.c.started_at > bindparam("shift"),
        sessions.c.seen_at > bindparam("idle"),
    )
    return (
        select(
            devices.c.id.label("device_id"),
            devices.c.name.label("device_name"),
            devices.c.kind,
            devices.c.room,
        )
        .add_columns(staff.c.id.label("staff_id"), staff.c.name, staff.c.languages, staff.c.left_on)
        .add_columns(sessions.c.seen_at, roles.c.role)
        .select_from(
            devices.outerjoin(sessions, lasting)
            .outerjoin(staff, staff.c.id == sessions.c.staff_id)
            .outerjoin(roles, roles.c.staff_id == staff.c.id)
        )
        .where(
            devices.c.token_hash == bindparam("device"),
            devices.c.enrolled_at.is_not(None),
            devices.c.revoked_at.is_(None),
        )
    )


WHO_ASKS = _who_asks()


def open_to(*who: str) -> Callable[[View], View]:
    """Declare who may open a view: `anyone`, `device`, `stranger`, `sender`, or roles by name.

    No role contains another: a manager opens what lists `manager`.
    """
    if not who or not KNOWN.issuperset(who):
        raise ValueError(f"open_to takes some of {sorted(KNOWN)}, not {who}")

    def declare(view: View) -> View:
        cast(Any, view).open_to = frozenset(who)
        return view

    return declare


def declared(app: Flask, endpoint: str) -> frozenset[str] | None:
    """Return who may open an endpoint, or None where nobody said."""
    return cast("frozenset[str] | None", getattr(app.view_functions[endpoint], "open_to", None))


def demand_declarations(app: Flask) -> None:
    """Raise `NotDeclared` naming every view that carries no `open_to`."""
    silent = sorted(name for name in app.view_functions if declared(app, name) is None)
    if silent:
        raise NotDeclared(f"these views do not say who may open them: {', '.join(silent)}")


def device() -> Device | None:
    """Return the enrolled device that asks, or None."""
    if "device" not in g:
        _recognise()
    return cast("Device | None", g.device)


def person() -> Person | None:
    """Return who is signed in on the asking device, or None."""
    if "person" not in g:
        _recognise()
    return cast("Person | None", g.person)


def signed_in(session: Session, staff_id: int, device_id: int, at: datetime) -> bool:
    """Say whether this person's PIN was checked on this device in the shift before `at`.

    True after they signed out as well: a queue of taps may arrive later than they leave.
    """
    tries = tables.sign_ins.c
    found = session.execute(
        select(tries.id)
        .where(
            tries.staff_id == staff_id,
            tries.device_id == device_id,
            tries.ok.is_(True),
            tries.at > at - SHIFT,
            tries.at <= at,
        )
        .limit(1)
    )
    return found.first() is not None


def may_open(endpoint: str) -> bool:
    """Say whether whoever is signed in may open a page; False for one that this app does not have."""
    somebody = person()
    if somebody is None or endpoint not in current_app.view_functions:
        return False
    return somebody.has(*(declared(current_app, endpoint) or ()))


def by_token() -> bool:
    """Say whether the view asked for knows its callers by their token alone and reads no cookie."""
    return _asked_of() == {INSTRUMENT}


def found_later() -> bool:
    """Say whether the view asked for finds out itself who asks."""
    return _asked_of() == {SENDER}


def _asked_of() -> frozenset[str]:
    return (declared(current_app, request.endpoint) if request.endpoint else None) or frozenset()


def _guard_instrument() -> None:
    sort, _, token = request.headers.get("Authorization", "").partition(" ")
    d = tables.devices.c
    known = select(d.id, d.name, d.kind, d.room).where(
        d.token_hash == hashed(site_context().site, INSTRUMENT, token.strip()),
        d.kind == INSTRUMENT,
        d.enrolled_at.is_not(None),
        d.revoked_at.is_(None),
    )
    g.person = g.device = None
    if sort.lower() == "bearer" and token.strip():
        with site_context().store.read() as session:
            row = session.execute(known).one_or_none()
        g.device = Device(*row) if row else None
    if g.device is None:
        raise Unauthorized(www_authenticate=WWWAuthenticate("bearer"))


def guard() -> Response | None:
    """Let the request through, send it to the sign-in page, or refuse it."""
    who = declared(current_app, request.endpoint) if request.endpoint else frozenset({ANYONE})
    if who is None:
        raise Forbidden()
    if ANYONE in who or SENDER in who:
        return None
    if by_token():
        _guard_instrument()
        return None
    here = device()
    if here is None:
        if STRANGER in who:
            return None
        raise NotFound()
    if here.kind in GUEST_ONLY:
        raise NotFound()
    if DEVICE in who:
        return None
    return _guard_person(who)


def _guard_person(who: frozenset[str]) -> Response | None:
    somebody = person()
    if somebody is None:
        if request.is_json or request.method != "GET":
            raise Unauthorized()
        return redirect(url_for("staff.sign_in", to=request.full_path.rstrip("?")))
    if not somebody.has(*who):
        raise Forbidden()
    return None


def _recognise() -> None:
    """Read device and person by one query; no cookie, no query."""
    g.device = g.person = None
    token = request.cookies.get(DEVICE_COOKIE)
    if not token:
        return
    site, at = site_context().site, now()
    asked = {
        "device": hashed(site, "device", token),
        "person": hashed(site, "person", request.cookies.get(PERSON_COOKIE, "")),
        "shift": at - SHIFT,
        "idle": at - IDLE,
    }
    with site_context().store.read() as session:
        rows = session.connection().execute(WHO_ASKS, asked).all()
    if rows:
        first = rows[0]
        g.device = Device(first.device_id, first.device_name, first.kind, first.room)
        g.person = _person(rows, site.local(at).date())


def _person(rows: Sequence[Row[Any]], today: date) -> Person | None:
    first = rows[0]
    if first.staff_id is None or (first.left_on and first.left_on <= today):
        return None
    g.seen_at = first.seen_at
    roles = frozenset(row.role for row in rows if row.role)
    return Person(first.staff_id, first.name, roles, tuple(first.languages))


def note_seen(response: Response) -> Response:
    """Push the idle limit back when a person opened a page; taps never write it."""
    if "seen_at" not in g or request.is_json or now() - g.seen_at < SEEN_STEP:
        return response
    token = request.cookies.get(PERSON_COOKIE, "")
    # A page that was made is not withheld because nothing can be written just now.
    with suppress(Unavailable), site_context().store.write() as session:
        session.execute(
            update(tables.sessions)
            .where(tables.sessions.c.token_hash == hashed(site_context().site, "person", token))
            .values(seen_at=now())
        )
    return response


def init_app(app: Flask) -> None:
    """Put the guard before every view; the static files are for anyone."""
    app.view_functions["static"] = open_to(ANYONE)(app.view_functions["static"])
    app.before_request(guard)
    app.after_request(note_seen)
