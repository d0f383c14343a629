"""What the commands share: the console's language, the option for a site's folder, an open database."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from kiosk.app import site_clock
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.audit import mark_site
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import upgrade
from kiosk.words.catalogs import Words, load_words

site_option = click.option(
    "--site",
    "site_folder",
    required=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The site's folder.",
)


def console_words() -> Words:
    """Return the words of the console's own language, English unless it is Spanish."""
    locale = os.environ.get("LC_ALL") or os.environ.get("LC_MESSAGES") or os.environ.get("LANG") or "en"
    language = "es" if locale.startswith("es") else "en"
    return load_words(shipped("locales"), language, language)


def open_store_of(site: Site) -> Store:
    """Open the site's database, migrated after a backup. Raises OtherSite if it belongs to another site."""
    backup = upgrade(site.database)
    if backup:
        click.echo(f"The database was brought up to date; its former self is {backup}")
    store = open_store(site.database)
    try:
        with store.write() as session:
            mark_site(session, site.key, at=site_clock(site)())
    except BaseException:
        store.close()
        raise
    return store


@contextmanager
def open_site(site: Site) -> Iterator[Store]:
    """Open the site's database as `open_store_of` does, and close it in the end."""
    store = open_store_of(site)
    try:
        yield store
    finally:
        store.close()
