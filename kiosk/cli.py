"""The `kiosk` command: each command parses, calls one function, and says what came of it."""

from __future__ import annotations

import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import click

from kiosk import __version__

DEFAULT_PORT = 8080


def clock() -> datetime:
    """Read the machine's clock; with `create_app` the only place that does."""
    return datetime.now(UTC)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="kiosk")
def cli() -> None:
    """The visitor side of a farm-to-bottle distillery: stops, figures, pours, cards."""


@cli.command()
@click.option("--port", default=DEFAULT_PORT, show_default=True, help="Port to try first; a free one is taken if it is in use.")
@click.option("--host", default="0.0.0.0", show_default=True, help="Address to listen on.")
def demo(port: int, host: str) -> None:
    """Show the invented estate Loma Candil, with today's records, in a scratch folder."""
    from kiosk.demo import prepare_demo

    with tempfile.TemporaryDirectory(prefix="kiosk-demo-") as scratch:
        prepared = prepare_demo(Path(scratch) / "site", clock(), click.echo)
        _serve(prepared.folder, host, port, prepared.sign_ins)


@cli.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def init(folder: Path) -> None:
    """Start a new site in FOLDER and print the one-time code of its first device."""
    from kiosk.starting import start_site

    for line in start_site(folder, clock()):
        click.echo(line)


@cli.command()
@click.option("--site", "folder", required=True, type=click.Path(exists=True, file_okay=False, path_type=Path), help="The site's folder.")
@click.option("--port", default=DEFAULT_PORT, show_default=True, help="Port to listen on.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for the local network.")
def serve(folder: Path, port: int, host: str) -> None:
    """Run a site until it is told to stop, then finish the requests in flight."""
    _serve(folder, host, port)


@cli.command()
@click.option("--site", "folder", required=True, type=click.Path(exists=True, file_okay=False, path_type=Path), help="The site's folder.")
def check(folder: Path) -> None:
    """Say all that is wrong with a site's settings, products, content and catalogs."""
