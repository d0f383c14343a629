"""Starts a new site: a folder with settings to fill in, a secret, a database, a first code."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.shipped import NEW_SITE
from kiosk.staff.devices import new_code
from kiosk.store.engine import open_store
from kiosk.store.migrate import upgrade
from kiosk.words.marker import N_

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
        with store.write() as session:
            code = new_code(session, site, FIRST_DEVICE, "tablet", None, now)
    finally:
        store.close()
    return [
        f"A new site is in {folder}.",
        f"1. Read {folder / 'site.toml'} and set what is yours: limits, basis, address.",
        f"2. kiosk check --site {folder}",
        f"3. kiosk serve --site {folder}",
        f"4. Open /staff/enrol and give this one-time code: {code}",
    ]
