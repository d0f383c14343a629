"""The `kiosk` command: each command parses, calls one function, and says what came of it."""

from __future__ import annotations

import gc
import os
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import click
from sqlalchemy.exc import DBAPIError

from kiosk import __version__
from kiosk.app import create_app, new_registry, system_clock
from kiosk.daily.running import Daily, NotReady
from kiosk.demo import prepare_demo
from kiosk.production.importing.faults import RecordFaults
from kiosk.production.importing.importing import import_as_shown, look_at
from kiosk.production.importing.report import ImportReport, Otherwise
from kiosk.production.importing.sources import files_in, read_files
from kiosk.production.importing.telling import counted, held_told
from kiosk.serving import free_port, network_address
from kiosk.serving import serve as serve_app
from kiosk.site.check import check_site
from kiosk.site.faults import SiteFaults
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.starting import FolderInUse, first_code, start_site
from kiosk.store.audit import ClockDoubted, confirm_clock, mark_site, require_plausible_clock
from kiosk.store.engine import Store, open_store
from kiosk.store.errors import OtherSite
from kiosk.store.migrate import MigrationFault, upgrade
from kiosk.store.sqlite import file_of
from kiosk.words.catalogs import N_, Words, load_words
from kiosk.words.errors import sentence

DEFAULT_PORT = 8080
EVERY_ADDRESS = "0.0.0.0"
REST_S = 0.1
"""Between two writes of the daily run: longer than any pause of a server that waits for its turn."""

T = TypeVar("T")
LONG = 5_000
"""So many rows take a second; a bar for less would only flicker."""
ASK = N_("Record this?")
DONE = N_("Recorded.")
NOTHING_DONE = N_("Nothing was recorded.")
NOTHING_NEW = N_("These files say nothing new.")

site_folder = click.option(
    "--site",
    "folder",
    required=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The site's folder.",
)
port_option = click.option("--port", default=DEFAULT_PORT, show_default=True, help="Port to listen on.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="kiosk")
def cli() -> None:
    """The visitor side of a farm-to-bottle distillery: stops, figures, pours, cards."""


@cli.command()
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


@cli.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def init(folder: Path) -> None:
    """Start a new site in FOLDER and print the one-time code of its first device."""
    for line in start_site(folder, system_clock()):
        click.echo(line)


@cli.command()
@site_folder
@port_option
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for all.")
@click.option("--clock-is-right", is_flag=True, help="Say that date and time are right, as was looked at.")
def serve(folder: Path, port: int, host: str, clock_is_right: bool) -> None:
    """Run a site until it is told to stop; the request in flight is finished first.

    The database is brought up to date first, after a backup beside it. A clock that
    is behind what was recorded already is asked about, and what was said written down.
    """
    _serve(load_site(folder), host, port, clock_is_right=clock_is_right)


@cli.command()
@site_folder
def check(folder: Path) -> None:
    """Say all that is wrong with a site: settings, route, products, content, catalogs."""
    faults = check_site(folder, new_registry().specs)
    if faults:
        raise SiteFaults(faults)


@cli.command(name="import")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--site",
    "site_folder",
    required=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The site's folder.",
)
@click.option("--yes", is_flag=True, help="Record it without asking.")
@click.option("--dry-run", is_flag=True, help="Say what it would do, and do nothing.")
def import_records(folder: Path, site_folder: Path, yes: bool, dry_run: bool) -> None:
    """Take the files of records in FOLDER in (.csv, .xlsx): all of them, or none and every fault.

    First says what it would do and asks. Importing the same files again changes nothing.
    """
    site, words = load_site(site_folder), console_words()
    gc.disable()  # rows hold no cycles, and looking for some among millions takes a fifth of the time
    read = read_files(files_in(folder), str(folder), site.zone, _watched)
    with _opened(site) as store:
        at, shown = system_clock(), None
        if dry_run or not yes:
            report = look_at(store, site, read, by=None, at=at, watch=_watched)
            _say_import(report, words)
            if report.faults:
                raise RecordFaults(report.faults)
            if dry_run or (report.does_something and not click.confirm(words.gettext(ASK))):
                click.echo(words.gettext(NOTHING_DONE))
                return
            shown = report.mark
        report = import_as_shown(store, site, read, shown, by=None, at=at, watch=_watched)
    if shown is None:
        _say_import(report, words)
    click.echo(words.gettext(DONE if report.does_something else NOTHING_NEW))


def _watched(items: Iterable[T], many: int, doing: str) -> Iterator[T]:
    """Pass items on under a bar that shows how far it is, where it takes long and somebody looks."""
    if many < LONG or not sys.stderr.isatty():
        yield from items
        return
    label = console_words().gettext(doing)
    with click.progressbar(
        items, length=many, label=label, file=sys.stderr, update_min_steps=many // 100
    ) as bar:
        yield from bar


def _say_import(report: ImportReport, words: Words) -> None:
    for file, counts in report.files.items():
        click.echo(f"{file}: {counted(counts, words)}")
    for line in held_told(report, words):
        click.echo(line)


@cli.command()
@site_folder
def daily(folder: Path) -> None:
    """Forget names whose time is over, back up, and tell what ends soon. Run it every night.

    Safe while the server runs. Exit codes: 0, all done (also where something ends
    soon); 1, something was not done, and says what; 2, called wrongly.
    """
    site = load_site(folder)
    first = site.languages[0]
    words = load_words(shipped("locales"), first.code, first.locale)
    file = file_of(site.database)
    if file is not None and not file.exists():
        raise NotReady
    store = open_store(site.database)
    try:
        run = Daily(site, store, words, system_clock(), click.echo, lambda: time.sleep(REST_S))
        done = run.run()
    finally:
        store.close()
    if not done:
        raise SystemExit(1)


@contextmanager
def _opened(site: Site) -> Iterator[Store]:
    """Bring the site's database up to date, make sure that it is this site's, and open it."""
    backup = upgrade(site.database)
    if backup:
        click.echo(f"The database was brought up to date; its former self is {backup}")
    store = open_store(site.database)
    try:
        with store.write() as session:
            mark_site(session, site.key, at=system_clock())
        yield store
    finally:
        store.close()


def _serve(
    site: Site, host: str, port: int, more: Sequence[str] = (), *, clock_is_right: bool = False
) -> None:
    with _opened(site) as store:
        _demand_clock(store, site, clock_is_right)
        if not more and (code := first_code(store, site, system_clock())):
            more = [f"No device is enrolled yet: give the one-time code {code} at /staff/enrol."]
        serve_app(create_app(site, store), host, port, lambda: _say_open(host, port, more))
    click.echo("Stopped; every request was answered.")


def _demand_clock(store: Store, site: Site, right: bool) -> None:
    """Go on only with a clock that can be believed, or that somebody says is right."""
    try:
        with store.read() as session:
            require_plausible_clock(session, system_clock(), site.zone)
    except ClockDoubted as doubt:
        said = sentence(doubt, console_words())
        if not right and not (sys.stdin.isatty() and click.confirm(said)):
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


def console_words() -> Words:
    """Return the words of the console's own language, English unless it is Spanish."""
    told = os.environ.get("LC_ALL") or os.environ.get("LC_MESSAGES") or os.environ.get("LANG") or "en"
    language = "es" if told.startswith("es") else "en"
    return load_words(shipped("locales"), language, language)


def main() -> None:
    """Run the command; what we foresee ends in a plain sentence and exit code 1."""
    words = console_words()
    try:
        cli(standalone_mode=True)
    except SiteFaults as faults:
        for fault in faults.faults:
            click.echo(fault.sentence(words.gettext), err=True)
        raise SystemExit(1) from None
    except RecordFaults as faults:
        for record_fault in faults.faults:
            click.echo(sentence(record_fault, words), err=True)
        raise SystemExit(1) from None
    except (ClockDoubted, FolderInUse, NotReady, OtherSite, Otherwise) as error:
        click.echo(sentence(error, words), err=True)
        raise SystemExit(1) from None
    except MigrationFault as fault:
        click.echo(str(fault), err=True)
        raise SystemExit(1) from None
    except DBAPIError as error:  # the server is away, or the file is no database
        click.echo(f"The site's database cannot be used: {error.orig}", err=True)
        raise SystemExit(1) from None
    except OSError as error:
        click.echo(f"{error.strerror}: {error.filename or ''}".rstrip(": "), err=True)
        raise SystemExit(1) from None
