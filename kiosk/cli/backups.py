"""`kiosk backup`, `restore` and `move`: a site into one archive and back, or to another database."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from kiosk.app import site_clock
from kiosk.cli.console import console_words, site_option
from kiosk.daily import BACKUPS, NotReady
from kiosk.site import backup as archives
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store.copying import copy_database, require_unchanged
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import is_current
from kiosk.store.sqlite import file_of, parse_address
from kiosk.words.catalogs import N_
from kiosk.words.formats import number

WRITTEN = N_("Backup written and checked: {file}")
OWNERS_ALONE = N_("It holds the secret of the site and names of guests: keep it where only you can read it.")
RESTORED = N_(
    "The site is back in {folder}, its database in {database}: {n} rows, as many as were backed up."
)
NEXT = N_("Start it with: kiosk serve --site {folder}")
COPIED = N_("{table}: {n} rows, equal")
MOVED = N_("Every table of the new database has the same rows and the same sums: {n} rows.")
SETTING = N_(
    "Now name the new database in site.toml (database = ...) or in KIOSK_DATABASE, and start kiosk serve. "
    "The former database is as it was; remove it when the new one has its first backup."
)


@click.command()
@site_option
@click.option(
    "--to",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The archive to write; without it, one named by the day in the site's folder backups.",
)
def backup(site_folder: Path, file: Path | None) -> None:
    """Write the whole site into one archive and check it: database, settings, content, secret, records.

    Safe while the server runs.
    """
    site, words = load_site(site_folder), console_words()
    with _open(site) as store:
        if file:
            written = archives.write_backup(site, store, file.absolute())
        else:
            today = site.service_day(site_clock(site)())
            written = archives.back_up(site, store, site.folder / BACKUPS, today)
    click.echo(words.gettext(WRITTEN, file=written))
    click.echo(words.gettext(OWNERS_ALONE))


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path))
def restore(file: Path, folder: Path) -> None:
    """Bring the site in the archive FILE back into FOLDER, which must be new or empty.

    Everything in the archive is checked before anything is there.
    """
    words = console_words()
    back = archives.restore(file, folder)
    rows = number(sum(back.rows.values()), 0, words)
    click.echo(words.gettext(RESTORED, folder=back.folder, database=back.database, n=rows))
    click.echo(words.gettext(NEXT, folder=back.folder))


@click.command()
@site_option
@click.option("--to", "address", required=True, help="The address of an empty database: postgresql://...")
def move(site_folder: Path, address: str) -> None:
    """Copy a site's database into another, empty one, and prove that the two are equal.

    Stop the server first. The settings are not changed.
    """
    site, words = load_site(site_folder), console_words()
    parse_address(address)
    with _open(site) as store:
        copied = copy_database(store, address)
        require_unchanged(store, copied)
    for table, one in copied.items():
        click.echo(words.gettext(COPIED, table=table, n=number(one.rows, 0, words)))
    click.echo(words.gettext(MOVED, n=number(sum(one.rows for one in copied.values()), 0, words)))
    click.echo(words.gettext(SETTING))


@contextmanager
def _open(site: Site) -> Iterator[Store]:
    """Open a site's database as it is. Raises NotReady where there is none, or one of another release."""
    if (file := file_of(site.database)) and not file.exists():
        raise NotReady
    store = open_store(site.database)
    try:
        if not is_current(store):
            raise NotReady
        yield store
    finally:
        store.close()
