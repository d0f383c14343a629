"""A served demo and headless Chromium: what the stories of whole visits stand on."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from sqlalchemy import select

from kiosk.app import site_clock
from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.staff.devices import new_code
from kiosk.store.engine import open_store
from kiosk.store.tables.tours import bookings
from kiosk.tours.checkin.arrivals import give_numbers

PHONE, TABLET, WALL = (390, 844), (820, 1180), (1920, 1080)
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WAIT_S = 30


@dataclass(frozen=True)
class Served:
    """A running demo: where it answers, and what a test must know to enter it."""

    base: str
    folder: Path
    database: str
    pins: dict[str, str]

    @property
    def now(self) -> datetime:
        """The moment that the demo's clock shows."""
        return site_clock(load_site(self.folder, database=self.database))()

    def code(self, name: str) -> str:
        """Make a one-time code for a new device."""
        site = load_site(self.folder, database=self.database)
        store = open_store(self.database)
        try:
            with store.write() as session:
                return new_code(session, site, name, "tablet", None, self.now)
        finally:
            store.close()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo that most stories share."""
    with served(tmp_path_factory.mktemp("demo") / "site") as one:
        yield one


@contextmanager
def served(folder: Path) -> Iterator[Served]:
    """Prepare a demo and serve it by the real command in a process of its own."""
    prepared = prepare_demo(folder, datetime.now(UTC), lambda _line: None)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {name: value for name, value in os.environ.items() if name != "KIOSK_DATABASE"}
    command = [sys.executable, "-m", "kiosk", "serve", "--site", str(folder), "--port", str(port)]
    with open(folder.parent / "server.log", "w") as log:
        server = subprocess.Popen(command, stdout=log, stderr=log, env=environment)
    base = f"http://127.0.0.1:{port}"
    try:
        _await(base, folder.parent / "server.log")
        pins = dict(
            line.split()[:2] for line in prepared.sign_ins if line.split()[1:2] and line.split()[1].isdigit()
        )
        yield Served(base, folder, prepared.database, pins)
    finally:
        server.terminate()
        server.wait(WAIT_S)


@contextmanager
def served_with_guests(folder: Path) -> Iterator[Served]:
    """Serve a demo of a module's own, whose every party has come."""
    with served(folder) as one:
        site, store = load_site(one.folder, database=one.database), open_store(one.database)
        with store.write() as session:
            for party, tour in session.execute(select(bookings.c.id, bookings.c.tour_id)).all():
                give_numbers(session, site, tour, party, one.now)
        store.close()
        yield one


def _await(base: str, log: Path) -> None:
    deadline = time.monotonic() + WAIT_S
    while time.monotonic() < deadline:
        try:
            with urllib.request.urlopen(f"{base}/en/", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    raise AssertionError(f"the demo did not answer:\n{log.read_text()}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Headless Chromium as the system has it; without one these tests are skipped, in CI they fail."""
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        reason = "no Chromium on this machine: install Debian's package chromium to run the browser tests"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield browser
        browser.close()


Open = Callable[..., Page]


@pytest.fixture
def open_page(chromium: Browser, demo: Served) -> Iterator[Open]:
    """Open a browser of its own: `open_page("es", PHONE)`. A script or policy error fails the test."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(language: str = "en", size: tuple[int, int] = PHONE, **more: Any) -> Page:
        context = chromium.new_context(
            base_url=demo.base,
            locale={"en": "en-US", "es": "es-PR"}[language],
            viewport={"width": size[0], "height": size[1]},
            **more,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(f"{page.url}: {error}"))
        page.on("console", lambda said: complaints.append(f"{page.url}: {said.text}") if _bad(said) else None)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def _bad(said: Any) -> bool:
    """A script's or the content policy's complaint; an answer that a test made fail is none."""
    return said.type == "error" and not said.text.startswith("Failed to load resource")


def enrol(page: Page, demo: Served, device: str, language: str = "en") -> None:
    """Choose a language and enrol this browser as a device of the house; it asks for a name and PIN then."""
    page.goto(f"/language/{language}?to=/staff/enrol")
    page.fill("input[name=code]", demo.code(device))
    page.locator("main form button").click()
    page.wait_for_url("**/staff/sign-in")


def sign_in(
    page: Page, demo: Served, device: str, name: str, language: str, *, scripted: bool = True
) -> None:
    """Enrol this browser and sign a person in: by the last digit of the PIN, or by the button."""
    enrol(page, demo, device, language)
    if scripted:
        page.locator("[data-keys]").wait_for()
    page.get_by_text(name, exact=True).click()
    page.fill("input[name=pin]", demo.pins[name])
    if not scripted:
        page.locator("main form button.strong").click()
    page.wait_for_url("**/staff/")
    page.goto(f"/language/{language}?to=/staff/")  # signing in forgets the choice of the person before
    assert page.locator("html").get_attribute("lang") == language
