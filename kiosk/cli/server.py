"""The server of a site: waitress with two pools of threads, limits on what is sent, and TLS.

waitress reads requests in one thread of its own and gives a thread of a pool only to a
whole request, so that phones on a bad network hold no thread. The pages of guests have a
pool beside that of the staff: however many guests read, threads are free for pours.

waitress drops the requests in flight when it is stopped. A pour that was recorded
and not acknowledged would be sent again, so `serve_app` stops listening, answers
what it has accepted, and only then returns.
"""

import copy
import gc
import logging
import signal
import ssl
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

from flask import Flask
from waitress import create_server, wasyncore
from waitress.buffers import OverflowableBuffer
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.receiver import FixedStreamReceiver
from waitress.task import ThreadedTaskDispatcher

from kiosk.web.security import USUAL_BYTES

STAFF_THREADS = 6
GUEST_THREADS = 2
"""Pages of guests are computed, not waited for: more threads would only take turns with the pours."""
STAFF = "/staff"
MOST_CONNECTIONS = 2_000
"""60 phones open 360. Each takes a file handle, and the system's usual limit of those is raised."""
SPARE_HANDLES = 200
IDLE_S = 15
"""A connection on which nothing is asked or sent for so long is closed."""
CLEANUP_S = 5
MOST_BYTES = 100_000_000
"""For a larger body the connection is closed at once."""
GRACE_S = 30.0
SWITCH_S = 0.0005
"""How long a busy thread may keep the interpreter from another. Every call into the
database releases it, and the thread that holds the write lock waits this long to go
on: with Python's own 5 ms all pours wait behind it."""
_POLL_S = 0.5
_TLS_RECORD = 16_384


class TwoPools:
    """Threads for staff, and others for guests: waitress gives each whole request to `add_task`."""

    def __init__(self, staff: int, guests: int) -> None:
        self._staff, self._guests = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        self._staff.set_thread_count(staff)
        self._guests.set_thread_count(guests)

    def add_task(self, channel: Any) -> None:
        """Put a connection whose first request is whole in the queue of its pool."""
        path = str(channel.requests[0].path or "") if channel.requests else ""
        (self._staff if path.startswith(STAFF) else self._guests).add_task(channel)

    def shutdown(self) -> None:
        """End every thread and drop what still waits."""
        self._guests.shutdown()
        self._staff.shutdown()


class _Discarded(FixedStreamReceiver):  # type: ignore[misc]
    """Receives a body that is too large and keeps nothing of it, so that the answer reaches its sender."""

    def received(self, data: bytes) -> int:
        """Count what came."""
        taken: int = min(self.remain, len(data))
        self.remain -= taken
        self.completed = self.remain < 1
        return taken


class _Parser(HTTPRequestParser):  # type: ignore[misc]
    """Reads a request; a body larger than its view takes (`most_bytes`) never gets to the disk."""

    most_bytes: Mapping[str, int] = {}
    adj: Any

    def parse_header(self, header_plus: bytes) -> None:
        """Read the header; the app refuses a large body by its `Content-Length`, in words."""
        super().parse_header(header_plus)
        most = self.most_bytes.get(self.path, USUAL_BYTES)
        if self.chunked:  # its length is not known beforehand
            self.adj = copy.copy(self.adj)
            self.adj.max_request_body_size = most
        elif self.content_length > most:
            self.body_rcv = _Discarded(self.content_length, OverflowableBuffer(1))


class _Channel(HTTPChannel):  # type: ignore[misc]
    parser_class = _Parser


class _TlsChannel(_Channel):
    """A connection that is encrypted; the handshake is part of the first reads.

    OpenSSL is not used by two threads at once: waitress reads only while no request is in
    flight, and writes under one lock.
    """

    def handle_read(self) -> None:
        """Read what is there; a record that is not whole yet is read later."""
        try:
            data = self.socket.recv(_TLS_RECORD)  # a whole record: none is left inside OpenSSL
        except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return
        except OSError:
            data = b""
        if not data:
            self.handle_close()
            return
        self.last_activity = time.time()
        self.received(data)

    def send(self, data: bytes, do_close: bool = True) -> int:
        """Send what can be sent now, and return how much."""
        try:
            return int(super().send(data, do_close=do_close))
        except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return 0


def tls_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return the settings of TLS 1.2 and later with a certificate and its key. Raises SSLError."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate, key, password="")  # never asks at the console
    return context


def _open_tls(
    context: ssl.SSLContext, channel: type[_TlsChannel], server: Any, connection: Any, *more: Any, map: Any
) -> None:
    try:
        encrypted = context.wrap_socket(connection, server_side=True, do_handshake_on_connect=False)
    except OSError:  # it is gone already
        connection.close()
        return
    channel(server, encrypted, *more, map=map)


def serve_app(
    app: Flask, host: str, port: int, on_ready: Callable[[], None], tls: ssl.SSLContext | None = None
) -> None:
    """Serve `app` until SIGTERM or SIGINT, then finish the requests in flight.

    Raises OSError when the port cannot be opened.
    """
    sys.setswitchinterval(SWITCH_S)
    gc.freeze()  # the app stays: no page need wait while it is searched for garbage
    for name in ("waitress.queue", "waitress"):
        logging.getLogger(name).setLevel(logging.ERROR)
    server = _server(app, host, port, tls)
    stopping = threading.Event()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        stopping.set()
        server.pull_trigger()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    on_ready()
    _turn(server, until=stopping.is_set)
    wasyncore.dispatcher.close(server)  # stops listening; accepted requests are still answered
    deadline = time.monotonic() + GRACE_S
    _turn(server, until=lambda: _idle(server) or time.monotonic() > deadline)
    server.task_dispatcher.shutdown()


def _server(app: Flask, host: str, port: int, tls: ssl.SSLContext | None) -> Any:
    server = create_server(
        app,
        host=host,
        port=port,
        _dispatcher=TwoPools(STAFF_THREADS, GUEST_THREADS),
        ident="kiosk",
        url_scheme="https" if tls else "http",
        connection_limit=_connections(),
        channel_timeout=IDLE_S,
        cleanup_interval=CLEANUP_S,
        max_request_body_size=MOST_BYTES,
        clear_untrusted_proxy_headers=False,  # `web.security` reads them, and decides whose
    )
    larger = {
        rule.rule: most
        for rule in app.url_map.iter_rules()
        if (most := getattr(app.view_functions[rule.endpoint], "most_bytes", None))
    }
    parser = type("Parser", (_Parser,), {"most_bytes": larger})
    channel = type("Channel", (_TlsChannel if tls else _Channel,), {"parser_class": parser})
    server.channel_class = partial(_open_tls, tls, channel) if tls else channel
    return server


def _connections() -> int:
    """Return how many connections may be open, after the limit of file handles was raised for them."""
    with suppress(ImportError, ValueError, OSError):  # not on Windows
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = MOST_CONNECTIONS + SPARE_HANDLES
        allowed = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        if soft != resource.RLIM_INFINITY and soft < allowed:
            resource.setrlimit(resource.RLIMIT_NOFILE, (allowed, hard))
            soft = allowed
        if soft != resource.RLIM_INFINITY:
            return min(MOST_CONNECTIONS, soft - SPARE_HANDLES)
    return MOST_CONNECTIONS


def _turn(server: Any, until: Callable[[], bool]) -> None:
    while not until():
        # By poll: select takes no file handle beyond 1023.
        wasyncore.loop(timeout=_POLL_S, map=server._map, count=1, use_poll=True)


def _idle(server: Any) -> bool:
    return not any(
        channel.requests or channel.total_outbufs_len for channel in list(server.active_channels.values())
    )
