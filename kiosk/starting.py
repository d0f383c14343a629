"""Starts a new site: a folder with settings to fill in, a secret, a database, a first code."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import NEW_SITE
from kiosk.staff.devices import listed, new_code
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import upgrade
from kiosk.words.catalogs import N_

FIRST_DEVICE = "first tablet"


class FolderInUse(Exception):
    """The folder of a new site already holds something."""

    message = N_("{folder} is not empty. A new site wants a folder of its own.")

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder))
        self.facts = {"folder": str(folder)}


def start_site(folder: Path, now: datetime) -> list[str]:
    """Make a new site in `folder` and return what its owner must be told.

    Raises FolderInUse when the folder holds anything.
    """
    if folder.exists() and any(folder.iterdir()):
        raise FolderInUse(folder)
    shutil.copytree(NEW_SITE, folder, dirs_exist_ok=True)
    make_secret(folder)
    site = load_site(folder)
    upgrade(site.database)
    store = open_store(site.database)
    try:
        code = first_code(store, site, now)
    finally:
        store.close()
    return [
        f"A new site is in {folder}.",
        f"1. Read {folder / 'site.toml'} and set what is yours: limits, basis, address.",
        f"2. kiosk check --site {folder}",
        f"3. kiosk serve --site {folder}",
        f"4. Open /staff/enrol within half an hour and give this one-time code: {code}",
        "   A later `kiosk serve` prints a new one as long as no device is enrolled.",
    ]


def first_code(store: Store, site: Site, now: datetime) -> str | None:
    """Return a one-time code while the site has no enrolled device, else None.

    Whoever sits at the console owns the site: this is also the way back in when
    the only tablet was lost.
    """
    with store.write() as session:
        if any(device.state == "enrolled" for device in listed(session)):
            return None
        return new_code(session, site, FIRST_DEVICE, "tablet", None, now)
