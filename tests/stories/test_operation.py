"""A house whose computer is lost comes back from its backup and goes on with its numbers."""

from __future__ import annotations

import json
import re
import shutil
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands import Command
from tests.production.folder import FILES
from tests.stories.house import PIN, Country, House, Screen, kiosk, new_site, serve

PAGES = (
    "/en/stops/cask-store",
    "/es/stops/cask-store",
    "/en/bottles/BL-1",
    "/staff/records/",
    "/staff/people",
)


class Computer:
    """The computer of a house: a folder, and a server that may be killed and started again."""

    def __init__(self, folder: Path) -> None:
        self.served: tuple[Command, House] | None = None
        self.folder = folder

    def start(self) -> House:
        """Start the server and return the house."""
        self.served = serve(self.folder)
        return self.served[1]

    def lose_power(self) -> None:
        """Kill the server without a word."""
        if self.served:
            self.served[0].kill()
            self.served[0].wait(30)
            self.served = None


@pytest.fixture
def computer(country: Country, tmp_path: Path) -> Iterator[Computer]:
    """A computer with a new house on it."""
    new_site(tmp_path / "first" / "site", country)
    one = Computer(tmp_path / "first" / "site")
    yield one
    one.lose_power()


def enrolled(house: House) -> Screen:
    """Return the first tablet, with the first manager signed in."""
    screen = Screen(house.base)
    typed = {"code": house.code, "name": "Rosa", "pin": PIN, "pin_again": PIN, "language": "en"}
    assert screen.submit(screen.get("/staff/enrol"), **typed).status == 200
    sign_in(screen)
    return screen


def sign_in(screen: Screen) -> None:
    page = screen.get("/staff/sign-in")
    person = re.findall(r'name="person" value="(\d+)"', page.body.decode())[0]
    screen.submit(page, person=person, pin=PIN)
    assert screen.get("/staff/").path == "/staff/"


def read(screen: Screen) -> dict[str, str]:
    """Return what the pages with the house's numbers say, without the time of day at which they say it."""
    said = {}
    for path in PAGES:
        page = screen.get(path)
        assert page.status == 200, path
        said[path] = re.sub(r"\d+ (seconds?|minutes?|segundos?|minutos?)|\d\d?:\d\d( [AP]M)?", "", page.words)
    return said


def health(house: House) -> dict[str, object]:
    with urllib.request.urlopen(f"{house.base}/health", timeout=20) as answer:
        answered: dict[str, object] = json.loads(answer.read())
    return answered


def test_the_computer_is_lost_and_the_house_goes_on_with_its_numbers(
    computer: Computer, tmp_path: Path
) -> None:
    house = computer.start()
    tablet = enrolled(house)
    tablet.submit(tablet.upload(tablet.get("/staff/records/import"), FILES))
    before = read(tablet)
    away = tmp_path / "away" / "backup.zip"
    away.parent.mkdir()
    made = kiosk("backup", "--site", str(house.folder), "--to", str(away))  # while the house is served
    assert made.returncode == 0, made.stdout + made.stderr

    computer.lose_power()
    shutil.rmtree(computer.folder)
    computer.folder = tmp_path / "second" / "site"
    computer.folder.mkdir(parents=True)
    back = kiosk("restore", str(away), str(computer.folder))
    assert back.returncode == 0, back.stdout + back.stderr
    assert kiosk("check", "--site", str(computer.folder)).returncode == 0

    house = computer.start()
    assert health(house)["status"] == "ok"
    assert house.code == "", "its tablet is enrolled already"
    tablet.base = house.base
    assert read(tablet) == before  # the tablet and the sign-in of before the loss
    sign_in(tablet)
    again = tablet.upload(tablet.get("/staff/records/import"), FILES)
    assert "say nothing new" in again.words or again.status == 200
    nightly = kiosk("daily", "--site", str(computer.folder))
    assert nightly.returncode == 0, nightly.stdout + nightly.stderr
    assert list((computer.folder / "backups").glob("*.zip"))
