"""Who may open what: every view says so, and the app refuses to start otherwise.

A device is known by the cookie that it was given when it was enrolled, a person
by the cookie of a sign-in on that device. Without a device the staff pages do
not exist; a guests' device (`GUEST_ONLY`) sees guests' pages and nothing else.
"""

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any, TypeVar, cast

from flask import Flask, current_app, g, redirect, request, url_for
from werkzeug.datastructures import WWWAuthenticate
from werkzeug.exceptions import Forbidden, NotFound, Unauthorized
from werkzeug.wrappers import Response

from kiosk.staff import devices, sessions
from kiosk.staff.devices import Device
from kiosk.staff.people import ROLES
from kiosk.staff.sessions import Person
from kiosk.store.errors import Unavailable
from kiosk.web import forms
from kiosk.web.context import cookie, cookie_name, now, site_context
from kiosk.words.catalogs import N_

ANYONE = "anyone"  # guests too
DEVICE = "device"  # an enrolled device, with or without a person signed in
STRANGER = "stranger"  # a device that is not enrolled yet
SENDER = "sender"  # a device that sends entries: the view identifies it in the transaction that records
WALL = "wall"  # the screen of the hall too, which otherwise opens guests' pages only
INSTRUMENT = "instrument"  # a device that shows its own token, never a cookie
KNOWN = frozenset({ANYONE, DEVICE, STRANGER, SENDER, WALL, INSTRUMENT, *ROLES})

DEVICE_COOKIE = "kiosk_device"
PERSON_COOKIE = "kiosk_person"
DEVICE_COOKIE_S = 400 * 86_400  # as long as browsers keep any cookie
OWN_PIN = "staff.own_pin"
"""The only page of a person whose PIN another person knows."""
GUEST_ONLY = frozenset({"kiosk", "wall", "instrument", "feed"})
SEEN_STEP = timedelta(minutes=1)

View = TypeVar("View", bound=Callable[..., Any])


class NotEnrolled(NotFound):
    """A staff page was asked for by a browser that is no device of the house."""

    message = N_(
        "This browser is not enrolled. A manager makes a one-time code under Devices on another screen, or "
        "`kiosk enrol` prints one on the computer that runs this site. Type it at /staff/enrol here."
    )


class NotDeclared(RuntimeError):
    """A view does not say who may open it; the app must not start."""


def open_to(*who: str, most_bytes: int | None = None) -> Callable[[View], View]:
    """Declare who may open a view: `anyone`, `device`, `stranger`, `sender`, `wall`, or roles by name.

    No role contains another: a manager opens what lists `manager`. `most_bytes` lets a view
    take a larger form than others do.
    """
    if not who or not KNOWN.issuperset(who):
        raise ValueError(f"open_to takes some of {sorted(KNOWN)}, not {who}")

    def declare(view: View) -> View:
        cast(Any, view).open_to = frozenset(who)
        cast(Any, view).most_bytes = most_bytes
        return view

    return declare


def declared(app: Flask, endpoint: str) -> frozenset[str] | None:
    """Return who may open an endpoint, or None for a view without a declaration."""
    return cast("frozenset[str] | None", getattr(app.view_functions[endpoint], "open_to", None))


def require_declarations(app: Flask) -> None:
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
    """Return the person signed in on the asking device, or None."""
    if "person" not in g:
        _recognise()
    return cast("Person | None", g.person)


def require_device() -> Device:
    """Return the enrolled device that asks; without one the page does not exist. Raises NotFound."""
    here = device()
    if here is None:
        raise NotFound()
    return here


def require_person() -> Person:
    """Return the person signed in on the asking device. Raises Unauthorized."""
    signed_in = person()
    if signed_in is None:
        raise Unauthorized()
    return signed_in


def entry_proof() -> str:
    """Return the proof of the sign-in that asks, for the entries of its page. Raises Unauthorized."""
    asking = require_person()
    return sessions.entry_proof(site_context().site, asking.id, require_device().id, asking.started_at)


def may_open(endpoint: str) -> bool:
    """Return whether the person signed in may open a page; False for one that this app does not have."""
    asking = person()
    if asking is None or endpoint not in current_app.view_functions:
        return False
    return asking.has(*(declared(current_app, endpoint) or ()))


def uses_own_token() -> bool:
    """Return whether the view asked for identifies its callers by their own token and reads no cookie."""
    return _asked_of() == {INSTRUMENT}


def identifies_sender() -> bool:
    """Return whether the view asked for identifies the sender itself, in its own transaction."""
    return _asked_of() == {SENDER}


def cookie_hashes() -> tuple[str, str]:
    """Return the keyed hashes of the cookies of device and person that the request shows, "" for none."""
    site, device, person = site_context().site, cookie(DEVICE_COOKIE), cookie(PERSON_COOKIE)
    return site.keyed_hash("device", device), site.keyed_hash("person", person)


def _asked_of() -> frozenset[str]:
    return (declared(current_app, request.endpoint) if request.endpoint else None) or frozenset()


def _guard_instrument() -> None:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    g.person = g.device = None
    if scheme.lower() == "bearer" and token.strip():
        with site_context().store.read() as session:
            g.device = devices.find_instrument(session, site_context().site, token.strip())
    here, address = site_context(), request.remote_addr
    if g.device:
        here.instruments.require(g.device.id, now())
        return
    here.wrong_codes.require(address, now())
    raise Unauthorized(www_authenticate=WWWAuthenticate("bearer"))


def _guard_sender() -> None:
    """Refuse a browser that never was a device before its entries take the write lock. Raises NotFound."""
    here = site_context()
    token = here.site.keyed_hash("device", cookie(DEVICE_COOKIE))
    if token in here.known_senders:
        return
    with here.store.read() as session:
        if not devices.is_token(session, token):
            raise NotFound()
    here.known_senders.add(token)


def guard() -> Response | None:
    """Let the request through, send it to the sign-in page, or refuse it."""
    who = declared(current_app, request.endpoint) if request.endpoint else frozenset({ANYONE})
    if who is None:
        raise Forbidden()
    if request.endpoint:  # before anything of the form is read
        request.max_content_length = cast(Any, current_app.view_functions[request.endpoint]).most_bytes
    if request.endpoint is None and request.path.startswith("/staff") and device() is None:
        raise NotEnrolled()  # as for a page that is there: a stranger learns of neither
    if SENDER in who:
        _guard_sender()
    if ANYONE in who or SENDER in who:
        return None
    if uses_own_token():
        _guard_instrument()
        return None
    asking = device()
    if asking is None and STRANGER in who:
        return None
    if asking is None:
        raise NotEnrolled()
    if asking.kind == "wall" and WALL in who:
        return None
    if asking.kind in GUEST_ONLY:
        raise NotFound()
    return None if DEVICE in who else _guard_person(who)


def _guard_person(who: frozenset[str]) -> Response | None:
    asking = person()
    if asking is None:
        if request.is_json or request.method != "GET":
            raise Unauthorized()
        return redirect(url_for("staff.sign_in", to=request.full_path.rstrip("?")))
    if not asking.has(*who):
        raise Forbidden()
    if asking.pin_temporary and request.endpoint not in (OWN_PIN, "staff.change_own_pin"):
        return redirect(url_for(OWN_PIN), 303)
    return None


def _recognise() -> None:
    """Read device and person by one query; no cookie, no query."""
    g.device = g.person = None
    token = cookie(DEVICE_COOKIE)
    if token:
        other = cookie(PERSON_COOKIE)
        with site_context().store.read() as session:
            g.device, g.person = sessions.recognise(session, site_context().site, token, other, now())


def note_seen(response: Response) -> Response:
    """Push the idle limit back when a person opened a page; what a script sends or polls never does."""
    asking: Person | None = g.get("person")
    polled = request.path.endswith(".json")
    if asking is None or request.is_json or polled or now() - asking.seen_at < SEEN_STEP:
        return response
    token = cookie(PERSON_COOKIE)
    # A page that is ready is not withheld because nothing can be written just now.
    with suppress(Unavailable), site_context().store.write() as session:
        sessions.note_seen(session, site_context().site, token, now())
    return response


def rename_cookie(response: Response) -> Response:
    """Give an enrolled device that still shows the cookie of version 0.1.0 the one of this site's name."""
    if g.get("device") and cookie_name(DEVICE_COOKIE) not in request.cookies and not uses_own_token():
        forms.set_cookie(response, DEVICE_COOKIE, cookie(DEVICE_COOKIE), DEVICE_COOKIE_S)
    return response


def before_pages(app: Flask, step: Callable[[], Response | None]) -> None:
    """Run a step before every view but those that identify their callers themselves, by entry or token."""

    @app.before_request
    def run() -> Response | None:
        return None if identifies_sender() or uses_own_token() else step()


def init_app(app: Flask) -> None:
    """Open the static files to anyone, and note when a person was last seen."""
    app.after_request(rename_cookie)
    app.view_functions["static"] = open_to(ANYONE)(app.view_functions["static"])
    app.after_request(note_seen)
