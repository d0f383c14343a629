"""Commands on a site's folder: start a new site, check one, and its daily run."""

import shutil
import time
from datetime import datetime
from itertools import count
from pathlib import Path

import click

from kiosk.app import new_registry, site_clock, system_clock
from kiosk.cli.console import console_words, open_site, site_option
from kiosk.daily import Daily, NotReady
from kiosk.site.check import check_site, rooms_without_names
from kiosk.site.faults import FolderInUse, SiteFaults
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.settings import Site
from kiosk.site.shipped import NEW_SITE, shipped
from kiosk.staff.devices import list_devices, new_code
from kiosk.staff.people import find_member, hash_pin, members, random_pin, set_pin
from kiosk.staff.waits import lift_waits
from kiosk.store.engine import Store, open_store
from kiosk.store.migrate import upgrade
from kiosk.store.sqlite import file_of
from kiosk.words.catalogs import N_, load_words

REST_S = 0.1
"""Between two writes of the daily run: longer than any pause of a server that waits for its turn."""
FIRST_DEVICE = "first tablet"
ALL_WELL = N_("All is well in {folder}: settings, products, route and texts have no fault.")


def start_site(folder: Path, now: datetime) -> list[str]:
    """Make a new site in `folder` and return the lines that tell its owner what to do next.

    Raises FolderInUse when the folder holds anything.
    """
    if folder.exists() and any(folder.iterdir()):
        raise FolderInUse(folder)
    shutil.copytree(NEW_SITE, folder, dirs_exist_ok=True)
    make_secret(folder)
    (folder / "site.toml").chmod(0o600)  # it may come to hold a database's password
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

    The person at the console owns the site; when the only tablet was lost, `kiosk enrol`
    is the way back in.
    """
    with store.write() as session:
        if any(device.state == "enrolled" for device in list_devices(session)):
            return None
        return new_code(session, site, FIRST_DEVICE, "tablet", None, now)


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
def init(folder: Path) -> None:
    """Start a new site in FOLDER and print the one-time code of its first device."""
    for line in start_site(folder, system_clock()):
        click.echo(line)


@click.command()
@site_option
@click.option("--name", default="", help="Name of the new device; without it the tablets are numbered.")
@click.option("--new-pin", metavar="PERSON", help="Give this person a new PIN too, for one sign-in.")
def enrol(site_folder: Path, name: str, new_pin: str | None) -> None:
    """Print a one-time code for a new staff tablet: the way back in when the only one was lost.

    The waits of managers after wrong PINs end. Safe while the server runs.
    """
    site = load_site(site_folder)
    with open_site(site) as store:
        for line in print_code(store, site, site_clock(site)(), name=name, new_pin=new_pin):
            click.echo(line)


def print_code(
    store: Store, site: Site, now: datetime, *, name: str = "", new_pin: str | None = None
) -> list[str]:
    """Make a one-time code of a tablet, lift the waits of managers, and return what the console says.

    Raises StaffError: NAME_TAKEN or NAME_ALIKE for the name of another device, and
    NO_SUCH_PERSON for a person who does not work here. Nothing is changed then.
    """
    pin = random_pin()
    pin_hash = hash_pin(pin, site) if new_pin else ""  # slow: before the transaction begins
    with store.write() as session:
        taken = {device.name for device in list_devices(session) if device.state == "enrolled"}
        free = (f"tablet {n}" for n in count(1))
        name = name or next(each for each in free if each not in taken)
        code = new_code(session, site, name, "tablet", None, now)
        people = members(session, site, now)
        lifted = [member for member in people if "manager" in member.roles]
        if new_pin:
            person = find_member(people, new_pin)
            set_pin(session, person.id, pin_hash, now, temporary=True, by=None)
            lifted = list(dict.fromkeys([*lifted, person]))
        lift_waits(session, [member.id for member in lifted], now, by=None)
    return [
        f"Open /staff/enrol on the new tablet within half an hour and give this one-time code: {code}",
        f"It will be {name}. Revoke a lost device under /staff/devices.",
        *(
            [f"Waits after wrong PINs have ended for: {', '.join(one.name for one in lifted)}."]
            if lifted
            else []
        ),
        *([f"{person.name} signs in with the PIN {pin} and then chooses a new one."] if new_pin else []),
    ]


@click.command()
@site_option
def check(site_folder: Path) -> None:
    """List every fault of a site: settings, route, products, content, catalogs; or say that there is none.

    A room without names is listed too, and is no fault: pages show its id.
    """
    words = console_words()
    faults = check_site(site_folder, new_registry().specs)
    if faults:
        raise SiteFaults(faults)
    for lacking in rooms_without_names(site_folder):
        click.echo(lacking.sentence(words.gettext))
    click.echo(words.gettext(ALL_WELL, folder=site_folder))


@click.command()
@site_option
def daily(site_folder: Path) -> None:
    """Remove personal details whose time is over, back up, warn of what ends soon. Run it every night.

    Safe while the server runs. Exit codes: 0, all done (also where something ends
    soon); 1, something was not done, and the output says what; 2, wrong usage.
    """
    site = load_site(site_folder)
    first = site.languages[0]
    words = load_words(shipped("locales"), first.code, first.locale)
    if (file := file_of(site.database)) and not file.exists():
        raise NotReady
    store = open_store(site.database)
    try:
        done = Daily(site, store, words, site_clock(site)(), click.echo, lambda: time.sleep(REST_S)).run()
    finally:
        store.close()
    if not done:
        raise SystemExit(1)
