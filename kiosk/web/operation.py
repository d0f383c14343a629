"""What machines ask and operators read: the health of a running site, `robots.txt`, and the access log.

The access log has one line a request and no personal data: no address, no cookie, no
query, and no token of a guest's link. It is written by the logger `kiosk.access` of the
standard library, if that is set to INFO before the application is made: by `access_log` in `site.toml`, by
`kiosk serve --access-log`, or by the logging of the program that runs the site.
"""

import logging
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterable
from logging.handlers import WatchedFileHandler
from typing import Any
from urllib.parse import quote

from flask import Flask, jsonify, make_response
from sqlalchemy.exc import DBAPIError
from werkzeug.wrappers import Response

from kiosk.site.site_toml import OFF
from kiosk.store.errors import Unavailable
from kiosk.store.migrate import is_current
from kiosk.web.access import open_to
from kiosk.web.context import site_context

ROOM_BYTES = 200_000_000
"""A site with less free disk is unhealthy: records go on for days, a backup may not fit."""

ROBOTS = "User-agent: *\nDisallow: /staff/\nDisallow: /g/\n"

access_log = logging.getLogger("kiosk.access")
_TOKEN = re.compile(r"(?i)(?<=/g/)[^/]+|[A-Z2-7]{26,}")
"""A guest's link, and whatever looks like its token elsewhere in a path."""

WsgiApp = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


@open_to("anyone")
def health() -> Response:
    """Answer whether the site can work, 200 or 503: database, tables of this release, room on disk."""
    answers = {**_database(), "disk": shutil.disk_usage(site_context().site.folder).free >= ROOM_BYTES}
    well = all(answers.values())
    answer = make_response(
        jsonify({"status": "ok" if well else "unavailable", **answers}), 200 if well else 503
    )
    answer.cache_control.no_store = True
    return answer


def _database() -> dict[str, bool]:
    try:
        return {"database": True, "tables": is_current(site_context().store)}
    except (Unavailable, DBAPIError):
        return {"database": False, "tables": False}


@open_to("anyone")
def robots() -> Response:
    """Ask search engines to leave staff pages and guests' own pages alone."""
    return make_response((ROBOTS, {"Content-Type": "text/plain; charset=utf-8"}))


class AccessLog:
    """A WSGI application that writes a line for each request that another one answers."""

    def __init__(self, app: WsgiApp) -> None:
        self._app = app

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        """Answer like the application and log what it answered."""
        began, answered = time.perf_counter(), ["500", "-"]

        def start(status: str, headers: list[tuple[str, str]], *more: Any) -> Any:
            sizes = [value for name, value in headers if name.lower() == "content-length"]
            answered[:] = [status[:3], *(sizes or ["-"])]
            return start_response(status, headers, *more)

        try:
            return self._app(environ, start)
        finally:
            ms = (time.perf_counter() - began) * 1000
            line = (environ["REQUEST_METHOD"], path_without_tokens(environ["PATH_INFO"]), answered[0], ms)
            access_log.info("%s %s %s %.0f ms %s", *line, answered[1])


def path_without_tokens(path: str) -> str:
    """Return a request's path for the log: without a guest's token, and as one word of plain signs."""
    return quote(_TOKEN.sub("-", path.encode("latin-1").decode("utf-8", "replace")), safe="/")


def log_access(to: str | None) -> None:
    """Send the access log to a file, to standard output for "-", or nowhere for "off". Raises OSError.

    A file that is moved away is opened anew, so that it can be rotated.
    """
    if to is None or to == OFF:
        return
    handler = logging.StreamHandler(sys.stdout) if to == "-" else WatchedFileHandler(to, encoding="utf-8")
    formatter = logging.Formatter("%(asctime)sZ %(message)s", "%Y-%m-%dT%H:%M:%S")
    formatter.converter = time.gmtime
    handler.setFormatter(formatter)
    access_log.addHandler(handler)
    access_log.setLevel(logging.INFO)
    access_log.propagate = False


def init_app(app: Flask) -> None:
    """Add the addresses of machines, and the access log where a handler was given before."""
    app.add_url_rule("/health", "health", health)
    app.add_url_rule("/robots.txt", "robots", robots)
    if access_log.isEnabledFor(logging.INFO):
        app.wsgi_app = AccessLog(app.wsgi_app)  # type: ignore[method-assign]
