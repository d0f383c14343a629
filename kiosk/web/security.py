"""Checks every request and sets the headers of every answer.

What a proxy says of the connection (`X-Forwarded-For` and `-Proto`, never the host) is read
only from the addresses of the site's `[trusted_proxy]`, and only as many hops back as it states.

A form carries a token: a keyed hash of the cookie of its sender, which is that of
the sign-in, else of the device, else a random one given to a visitor.
"""

import hmac
from collections.abc import Iterable
from ipaddress import ip_address
from typing import Any, cast
from urllib.parse import urlsplit

from flask import Flask, g, request
from flask.json.provider import DefaultJSONProvider
from markupsafe import Markup
from werkzeug.exceptions import Forbidden
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.routing import IntegerConverter
from werkzeug.wrappers import Response

from kiosk.site.secret import new_token
from kiosk.site.settings import Site, TrustedProxy
from kiosk.web import access, forms
from kiosk.web.context import cookie, site_context
from kiosk.words.catalogs import N_

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
ALIKE_FOR_ALL = frozenset({"static", "web.site_css", "web.house_image"})
"""What these answer is the same for every reader."""
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
YEAR_S = 31_536_000
USUAL_BYTES = 2_000_000
"""The largest body that a view takes, unless it states another (`open_to`)."""
PROXY_READ = "werkzeug.proxy_fix.orig"
"""What ProxyFix leaves in the environment of a request whose proxy it believed."""
HSTS = "max-age=2592000"
"""A month: a house whose certificate ends is locked out of plain http for no longer."""
FIELD = "form_token"
VISITOR_COOKIE = "kiosk_visit"


REFUSALS = {
    "plain_http": N_(
        "Staff pages need an encrypted connection (https). On a network of its own, "
        "the site's settings can allow them without."
    ),
    "unknown_proxy": N_(
        "This request came through a proxy from {address}, which the site's settings do not name: "
        "the owner names it under [trusted_proxy] in site.toml."
    ),
    "form_expired": N_("This form is no longer valid. Open the page again and repeat what you did."),
}


class RequestRefused(Exception):
    """An unsafe request, refused for a reason of `REFUSALS`."""

    status = 403

    def __init__(self, code: str, **facts: object) -> None:
        super().__init__(code)
        self.code, self.message, self.facts = code, REFUSALS[code], facts


MOST_ID = 2**31 - 1


class JsonReader(DefaultJSONProvider):
    """Reads and writes JSON; what is nested too deep to be read is malformed."""

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        """Return what a JSON document says. Raises ValueError."""
        try:
            return super().loads(s, **kwargs)
        except RecursionError:
            raise ValueError("nested too deep") from None


class RowId(IntegerConverter):
    """An id in an address, as large as a database's integer may be; any larger is no page."""

    def __init__(self, map: Any) -> None:
        super().__init__(map, max=MOST_ID)


class ProxyHeaders:
    """A WSGI app behind the trusted proxies: their headers tell it address and scheme of the client."""

    def __init__(self, app: Any, proxy: TrustedProxy) -> None:
        self._plain, self._addresses = app, proxy.addresses
        self._behind = ProxyFix(app, x_for=proxy.hops, x_proto=proxy.hops, x_host=0)

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer a request, as from the client that a trusted proxy names."""
        trusted = within(environ.get("REMOTE_ADDR"), self._addresses)
        return (self._behind if trusted else self._plain)(environ, start_response)


def within(address: str | None, networks: Iterable[Any]) -> bool:
    """Return whether an address lies in one of the networks."""
    try:
        here = ip_address(address or "")
    except ValueError:
        return False
    mapped = getattr(here, "ipv4_mapped", None) or here
    return any(mapped in network for network in networks)


def trusted_hosts(site: Site) -> list[str]:
    """Return the host names that this site answers to."""
    public = urlsplit(site.public_address or "").hostname
    return sorted({*LOOPBACK, "[::1]", *site.trusted_hosts, *([public] if public else [])})


def check_transport() -> None:
    """Refuse staff pages over plain http from another machine, unless the site allows it."""
    if not request.path.startswith("/staff") or site_context().site.staff_over_http:
        return
    # A proxy on this machine that hides its clients is not a person at this machine.
    proxy, address = site_context().site.trusted_proxy, request.remote_addr
    hidden = "X-Forwarded-For" in request.headers or (proxy and within(address, proxy.addresses))
    nearby = urlsplit(request.host_url).hostname in LOOPBACK and address in LOOPBACK and not hidden
    if request.is_secure or nearby:
        return
    if request.headers.get("X-Forwarded-Proto") == "https" and PROXY_READ not in request.environ:
        raise RequestRefused("unknown_proxy", address=address)
    raise RequestRefused("plain_http")


def check_origin() -> None:
    """Refuse an unsafe request that did not come from a page of this site."""
    if request.method in SAFE or access.uses_own_token():
        return  # a sender with a token of its own uses no cookie that another page could misuse
    origin = request.headers.get("Origin")
    if origin == "null" and request.headers.get("Sec-Fetch-Site") == "same-origin":
        return  # a page that sends no referrer hides its origin from itself as well
    if origin is None or origin not in {request.host_url.rstrip("/"), site_context().site.public_address}:
        raise Forbidden()


def form_token() -> str:
    """Return the token for the forms of the page asked for."""
    return site_context().site.keyed_hash("form", _sender_cookie(new=True))


def form_token_field() -> Markup:
    """Return the hidden field that carries the token; a page of many forms has it reckoned once."""
    sender = _sender_cookie(new=True)
    if g.get("form_sender") != sender:
        field = Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, form_token())
        g.form_sender, g.form_field = sender, field
    return cast("Markup", g.form_field)


def check_form_token() -> None:
    """Refuse an unsafe request that is not JSON and lacks its form's token."""
    if request.method in SAFE or request.is_json or access.uses_own_token():
        return
    sender = _sender_cookie(new=False)
    sent = request.form.get(FIELD, "")
    if not sender or not hmac.compare_digest(
        sent.encode(), site_context().site.keyed_hash("form", sender).encode()
    ):
        raise RequestRefused("form_expired")


def _sender_cookie(*, new: bool) -> str:
    if access.person():
        return "person:" + cookie(access.PERSON_COOKIE)
    if access.device():
        return "device:" + cookie(access.DEVICE_COOKIE)
    visitor = cookie(VISITOR_COOKIE) or g.get("new_visitor", "")
    if not visitor and new:
        visitor = g.new_visitor = new_token()
    return f"visitor:{visitor}" if visitor else ""


def _set_visitor_cookie(response: Response) -> Response:
    if "new_visitor" in g:
        forms.set_cookie(response, VISITOR_COOKIE, g.new_visitor)
    return response


def add_headers(response: Response) -> Response:
    """Put the headers on an answer that does not set its own."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.endpoint not in ALIKE_FOR_ALL:
        response.vary.update(("Cookie", "Accept-Language"))
    if request.is_secure:
        response.headers.setdefault("Strict-Transport-Security", HSTS)
    if request.path.startswith("/staff"):
        response.headers.setdefault("Cache-Control", "no-store")
    return response


def _max_age(name: str | None) -> int | None:
    """Return a year for files named by their content and for typefaces, None for others."""
    return YEAR_S if "v" in request.args or str(name).endswith(".woff2") else None


def init_app(app: Flask) -> None:
    """Check every request in this order before its view runs; add cookie and headers last."""
    app.json = JsonReader(app)
    app.url_map.converters["int"] = RowId
    app.config["TRUSTED_HOSTS"] = trusted_hosts(app.extensions["kiosk"].site)
    app.config["MAX_CONTENT_LENGTH"] = USUAL_BYTES
    if proxy := app.extensions["kiosk"].site.trusted_proxy:
        app.wsgi_app = ProxyHeaders(app.wsgi_app, proxy)  # type: ignore[method-assign]
    app.get_send_file_max_age = _max_age  # type: ignore[method-assign, assignment]
    for check in (check_transport, check_origin, access.guard, check_form_token):
        app.before_request(check)
    app.after_request(add_headers)
    app.after_request(_set_visitor_cookie)
    app.jinja_env.globals.update(form_token=form_token, form_token_field=form_token_field)
