"""The production server: waitress, stopped only between requests.

waitress drops what it is answering when it is told to stop. A pour that was
recorded and not acknowledged would be tapped again, so `serve` closes the door,
answers what is inside, and only then returns.
"""

from __future__ import annotations

import logging
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType
from typing import Any

from flask import Flask
from waitress import create_server, wasyncore

THREADS = 8
GRACE_S = 30.0
SWITCH_S = 0.0005
"""How long a busy thread may keep the interpreter from another. Every call into the
database lets go of it, and whoever holds the write gate waits this long to go on:
with Python's own 5 ms all pours wait behind it."""
_POLL_S = 0.5


def free_port(host: str, wanted: int) -> int:
    """Return `wanted` if it can be bound on `host`, else a port that is free."""
    for port in (wanted, 0):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OSError(f"no port can be opened on {host}")


def network_address() -> str | None:
    """Return this machine's address on the local network, or None without one.

    No packet is sent: connecting a datagram socket only picks the route.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address.startswith(("127.", "0.")) else address


def serve(app: Flask, host: str, port: int, on_ready: Callable[[], None]) -> None:
    """Serve `app` until SIGTERM or SIGINT, then finish the requests in flight.

    Raises OSError when the port cannot be opened.
    """
    sys.setswitchinterval(SWITCH_S)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    server = create_server(app, host=host, port=port, threads=THREADS, ident="kiosk")
    stopping = threading.Event()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        stopping.set()
        server.pull_trigger()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    on_ready()
    _turn(server, until=stopping.is_set)
    wasyncore.dispatcher.close(server)  # the door only: who is inside is still answered
    deadline = time.monotonic() + GRACE_S
    _turn(server, until=lambda: _idle(server) or time.monotonic() > deadline)
    server.task_dispatcher.shutdown()


def _turn(server: Any, until: Callable[[], bool]) -> None:
    while not until():
        wasyncore.loop(timeout=_POLL_S, map=server._map, count=1)


def _idle(server: Any) -> bool:
    return not any(
        channel.requests or channel.total_outbufs_len for channel in list(server.active_channels.values())
    )
