"""`kiosk serve` and `kiosk demo`, and the production server: waitress, stopped only between requests.

waitress drops the requests in flight when it is stopped. A pour that was recorded
and not acknowledged would be sent again, so `serve_app` stops listening, answers
what it has accepted, and only then returns.
"""

import logging
import signal
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Any

import click
from flask import Flask
from waitress import create_server, wasyncore

from kiosk.app import create_app, system_clock
from kiosk.cli.console import console_words, open_site, site_option
from kiosk.cli.site import first_code
from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store.audit import ClockDoubted, confirm_clock, require_plausible_clock
from kiosk.store.engine import Store
from kiosk.words.errors import sentence

DEFAULT_PORT = 8080
EVERY_ADDRESS = "0.0.0.0"
port_option = click.option("--port", default=DEFAULT_PORT, show_default=True, help="Port to listen on.")

THREADS = 8
GRACE_S = 30.0
SWITCH_S = 0.0005
"""How long a busy thread may keep the interpreter from another. Every call into the
database releases it, and the thread that holds the write lock waits this long to go
on: with Python's own 5 ms all pours wait behind it."""
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


def serve_app(app: Flask, host: str, port: int, on_ready: Callable[[], None]) -> None:
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
    wasyncore.dispatcher.close(server)  # stops listening; accepted requests are still answered
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


@click.command()
@port_option
@click.option("--host", default=EVERY_ADDRESS, show_default=True, help="Address to listen on.")
def demo(port: int, host: str) -> None:
    """Show the invented estate Loma Candil with today's records; nothing is kept.

    Takes a free port if its own is taken.
    """
    with tempfile.TemporaryDirectory(prefix="kiosk-demo-") as scratch:
        prepared = prepare_demo(Path(scratch) / "loma-candil", system_clock(), click.echo)
        site = load_site(prepared.folder, database=prepared.database)
        near = [address] if (address := network_address()) else []
        site = replace(site, trusted_hosts=(*site.trusted_hosts, *near))
        free = free_port(host, port)
        sending = prepared.sending.replace("{address}", f"http://127.0.0.1:{free}")
        _serve(site, host, free, (*prepared.sign_ins, "Send a reading as an instrument does:", sending))


@click.command()
@site_option
@port_option
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for all.")
@click.option("--clock-is-right", is_flag=True, help="Confirm that date and time are right.")
def serve(site_folder: Path, port: int, host: str, clock_is_right: bool) -> None:
    """Run a site until it is stopped; requests in flight are finished first.

    The database is migrated first, after a backup beside it. If the clock is behind
    the newest record, the command asks whether it is right and records the answer.
    """
    _serve(load_site(site_folder), host, port, clock_is_right=clock_is_right)


def _serve(
    site: Site, host: str, port: int, more: Sequence[str] = (), *, clock_is_right: bool = False
) -> None:
    with open_site(site) as store:
        _require_clock(store, site, clock_is_right)
        if not more and (code := first_code(store, site, system_clock())):
            more = [f"No device is enrolled yet: give the one-time code {code} at /staff/enrol."]
        serve_app(create_app(site, store), host, port, lambda: _say_open(host, port, more))
    click.echo("Stopped; every request was answered.")


def _require_clock(store: Store, site: Site, right: bool) -> None:
    """Raise ClockDoubted for a clock behind the records, unless a person confirms that it is right."""
    try:
        with store.read() as session:
            require_plausible_clock(session, system_clock(), site.zone)
    except ClockDoubted as doubt:
        question = sentence(doubt, console_words())
        if not right and not (sys.stdin.isatty() and click.confirm(question)):
            raise
        with store.write() as session:
            confirm_clock(session, system_clock())


def _say_open(host: str, port: int, more: Iterable[str]) -> None:
    hosts = ["127.0.0.1", network_address()] if host == EVERY_ADDRESS else [host]
    click.echo("Open:")
    for name in filter(None, hosts):
        for who, path in (("guests", ""), ("staff", "staff/"), ("a new staff device", "staff/enrol")):
            click.echo(f"  {who:<20}http://{name}:{port}/{path}")
    for line in more:
        click.echo(line)
    click.echo("Stop with Ctrl-C.")
