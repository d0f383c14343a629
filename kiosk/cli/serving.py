"""`kiosk serve` and `kiosk demo`: a site's database is opened, its server started, its addresses printed."""

import socket
import sys
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from ssl import SSLContext, SSLError

import click

from kiosk.app import create_app, site_clock, system_clock
from kiosk.cli.console import console_words, open_site, site_option
from kiosk.cli.server import serve_app, tls_context
from kiosk.cli.site import first_code
from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store.audit import ClockDoubted, confirm_clock, require_plausible_clock
from kiosk.store.engine import Store
from kiosk.web.operation import log_access
from kiosk.words.errors import sentence

DEFAULT_PORT = 8080
EVERY_ADDRESS = "0.0.0.0"
port_option = click.option("--port", default=DEFAULT_PORT, show_default=True, help="Port to listen on.")
_file = click.Path(exists=True, dir_okay=False, path_type=Path)


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


@click.command()
@port_option
@click.option("--host", default=EVERY_ADDRESS, show_default=True, help="Address to listen on.")
def demo(port: int, host: str) -> None:
    """Show the invented estate Loma Candil on a day of its harvest; nothing is kept.

    Takes a free port if its own is taken.
    """
    with tempfile.TemporaryDirectory(prefix="kiosk-demo-") as scratch:
        prepared = prepare_demo(Path(scratch) / "loma-candil", system_clock(), click.echo)
        site = load_site(prepared.folder, database=prepared.database)
        near = [address] if (address := network_address()) else []
        site = replace(site, trusted_hosts=(*site.trusted_hosts, *near))
        free = free_port(host, port)
        more = ("Look first at:", *prepared.first, *prepared.sign_ins)
        more = (*more, "Send a reading as an instrument does:", prepared.sending)
        _serve(site, host, free, [line.replace("{address}", f"http://127.0.0.1:{free}") for line in more])


@click.command()
@site_option
@port_option
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for all.")
@click.option("--certificate", type=_file, help="Serve https with this certificate (PEM, with its chain).")
@click.option("--key", type=_file, help="The private key of the certificate (PEM).")
@click.option("--clock-is-right", is_flag=True, help="Confirm that date and time are right.")
@click.option(
    "--access-log",
    metavar="FILE",
    help="Write a line for each request to FILE, - for the console, off for none; else as in site.toml.",
)
def serve(
    site_folder: Path,
    port: int,
    host: str,
    certificate: Path | None,
    key: Path | None,
    clock_is_right: bool,
    access_log: str | None,
) -> None:
    """Run a site until it is stopped; requests in flight are finished first.

    The database is migrated first, after a backup beside it. If the clock is behind
    the newest record, the command asks whether it is right and records the answer.
    """
    site, tls = load_site(site_folder), _tls(certificate, key)
    log_access(site.access_log if access_log is None else access_log)
    _serve(site, host, port, tls=tls, clock_is_right=clock_is_right)


def _tls(certificate: Path | None, key: Path | None) -> SSLContext | None:
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise click.UsageError("--certificate and --key go together: give both, or neither.")
    try:
        return tls_context(certificate, key)
    except SSLError as error:
        pair = f"{certificate} and {key} are not a certificate and its private key in PEM without a password"
        raise click.UsageError(f"{pair} ({error.reason})." if error.reason else f"{pair}.") from None


def _serve(
    site: Site,
    host: str,
    port: int,
    more: Sequence[str] = (),
    *,
    tls: SSLContext | None = None,
    clock_is_right: bool = False,
) -> None:
    with open_site(site) as store:
        _require_clock(store, site, clock_is_right)
        if not more and (code := first_code(store, site, site_clock(site)())):
            more = [f"No device is enrolled yet: give the one-time code {code} at /staff/enrol."]
        scheme = "https" if tls else "http"
        serve_app(create_app(site, store), host, port, lambda: _say_open(scheme, host, port, more), tls)
    click.echo("Stopped; every request was answered.")


def _require_clock(store: Store, site: Site, right: bool) -> None:
    """Raise ClockDoubted for a clock behind the records, unless a person confirms that it is right."""
    try:
        with store.read() as session:
            require_plausible_clock(session, site_clock(site)(), site.zone)
    except ClockDoubted as doubt:
        question = sentence(doubt, console_words())
        if not right and not (sys.stdin.isatty() and click.confirm(question)):
            raise
        with store.write() as session:
            confirm_clock(session, site_clock(site)())


def _say_open(scheme: str, host: str, port: int, more: Iterable[str]) -> None:
    hosts = ["127.0.0.1", network_address()] if host == EVERY_ADDRESS else [host]
    click.echo("Open:")
    for name in filter(None, hosts):
        for who, path in (("guests", ""), ("staff", "staff/"), ("a new staff device", "staff/enrol")):
            click.echo(f"  {who:<20}{scheme}://{name}:{port}/{path}")
    for line in more:
        click.echo(line)
    click.echo("Stop with Ctrl-C.")
