"""A house started by `kiosk init`, served by `kiosk serve`, and reached over HTTP alone."""

from __future__ import annotations

import atexit
import json
import os
import re
import shutil
import ssl
import subprocess
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tests.commands import CLOCK_FILE, Command, run, start
from tests.faults.server import free_port
from tests.tls_front import tls_front, trusting

PIN = "402917"
STARTS_WITHIN_S = 30


OVER_HTTP = '\nstaff_over_http = "separate network"'
PROXY = '\n[trusted_proxy]\naddresses = ["127.0.0.1"]\n'


@dataclass(frozen=True)
class House:
    """A served site: its folder, its address, the one-time code of its first device, whom screens trust."""

    folder: Path
    base: str
    code: str
    tls: ssl.SSLContext | None = None

    def screen(self) -> Screen:
        """Return a browser that was never here before."""
        return Screen(self.base, self.tls)


class HouseClock:
    """The clock of a served site, which a test moves ahead; in between it runs on."""

    def __init__(self, file: Path, zone: str, shows: str) -> None:
        self.file, self.zone = file, ZoneInfo(zone)
        self.move(shows)

    def move(self, shows: str) -> None:
        """Let the clock show a time, such as "2027-03-27 09:50", on the site's own face."""
        ahead = datetime.fromisoformat(shows).replace(tzinfo=self.zone) - datetime.now(UTC)
        written = self.file.with_suffix(".new")
        written.write_text(str(ahead.total_seconds()))
        written.replace(self.file)

    @property
    def now(self) -> datetime:
        """The instant that the clock shows."""
        return datetime.now(UTC) + timedelta(seconds=float(self.file.read_text()))


@dataclass(frozen=True)
class Country:
    """What an owner writes into the settings of a new site before anything else."""

    name: str
    settings: Mapping[str, str]  # a line of the new site's `site.toml`: what it becomes


ISLAND = Country(
    "island",
    {
        'name = "New estate"': 'name = "Loma Candil"',
        'key = "new-estate"': 'key = "loma-candil"',
        'time_zone = "UTC"': 'time_zone = "America/Puerto_Rico"',
        'units = "metric"': 'units = "us"',
        '# staff_over_http = "separate network"': 'staff_over_http = "separate network"',
    },
)
"""The demo's country: proof and gallons, no daylight saving."""

MAINLAND = Country(
    "mainland",
    {
        'name = "New estate"': 'name = "Cerro Claro"',
        'key = "new-estate"': 'key = "cerro-claro"',
        'time_zone = "UTC"': 'time_zone = "Europe/Madrid"',
        'currency = "USD"': 'currency = "EUR"',
        'locale = "en_US"': 'locale = "en_GB"',
        'locale = "es_PR"': 'locale = "es_ES"',
        '# staff_over_http = "separate network"': 'staff_over_http = "separate network"',
    },
)
"""A metric house, with daylight saving and a decimal comma in Spanish."""


def kiosk(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command of `kiosk` to its end."""
    return run(*arguments, timeout_s=120, environment=_environment())


def new_site(folder: Path, country: Country) -> None:
    """Copy what `kiosk init` makes and write the country into its settings."""
    shutil.copytree(_new_folder(), folder)
    write_settings(folder, country.settings)


def write_settings(folder: Path, changes: Mapping[str, str], more: str = "") -> None:
    """Change texts of a site's settings that stand there once each, and add lines at their end."""
    settings = folder / "site.toml"
    text = settings.read_text(encoding="utf-8")
    for old, new in changes.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    settings.write_text(text + more, encoding="utf-8")


@cache
def _new_folder() -> Path:
    """Make a site with `kiosk init`, once for all stories of this process."""
    folder = Path(tempfile.mkdtemp(prefix="kiosk-init-"))
    atexit.register(shutil.rmtree, folder)
    begun = kiosk("init", str(folder / "site"))
    assert begun.returncode == 0, begun.stderr
    return folder / "site"


@contextmanager
def served_behind_tls(folder: Path, clock: HouseClock | None = None) -> Iterator[tuple[House, House]]:
    """Serve a site whose staff pages ask for https behind a proxy; return it by https, and as it listens."""
    write_settings(folder, {OVER_HTTP: ""}, PROXY)
    process, behind = serve(folder, clock=clock)
    with tls_front(urllib.parse.urlsplit(behind.base).port or 0) as port:
        yield replace(behind, base=f"https://localhost:{port}", tls=trusting()), behind
    process.terminate()
    assert process.wait(30) == 0


def serve(
    folder: Path, *more: str, tls: ssl.SSLContext | None = None, clock: HouseClock | None = None
) -> tuple[Command, House]:
    """Start `kiosk serve` on a free port; return the process and the house once it answers."""
    port = free_port()
    words = ("serve", "--site", str(folder), "--port", str(port), *more)
    with open(os.devnull, "rb") as nothing, (folder / "server.log").open("wb") as log:
        files = {"stdin": nothing.fileno(), "stdout": log.fileno(), "stderr": log.fileno()}
        follows = {CLOCK_FILE: str(clock.file)} if clock else {}
        process = start(*words, **files, environment=_environment() | follows)
    base = f"{'https' if tls else 'http'}://127.0.0.1:{port}"
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        assert process.poll() is None, (folder / "server.log").read_text()
        try:
            urllib.request.urlopen(f"{base}/en/", timeout=2, context=tls).read()
        except OSError:
            time.sleep(0.02)
        else:
            printed = (folder / "server.log").read_text(encoding="utf-8")
            codes = re.findall(r"\b[A-Z0-9]{4}-[A-Z0-9]{4}\b", printed)
            return process, House(folder, base, codes[-1] if codes else "", tls)
    process.kill()
    raise AssertionError(f"no answer within {STARTS_WITHIN_S} s")


def _environment() -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if name != "KIOSK_DATABASE"}
    return {**own, "LANG": "C.UTF-8", "PYTHONUNBUFFERED": "1"}


@dataclass
class Form:
    """A form of a page: where it goes and what it holds before anything is typed."""

    action: str
    fields: dict[str, str] = field(default_factory=dict)


class _Forms(HTMLParser):
    """Collects the forms of a page, the links, and what a screen shows as text."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[str] = []
        self.text: list[str] = []
        self._select = ""

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        one = {name: value or "" for name, value in attrs}
        if tag == "a" and "href" in one:
            self.links.append(one["href"])
        elif tag == "form" and one.get("method") == "post":
            self.forms.append(Form(one.get("action", "")))
        elif tag in ("input", "button") and self.forms and one.get("name"):
            chosen = "checked" in one if one.get("type") in ("checkbox", "radio") else tag == "input"
            if chosen and one.get("type") != "file":
                self.forms[-1].fields.setdefault(one["name"], one.get("value", ""))
        elif tag == "select" and one.get("name"):
            self._select = one["name"]
        elif tag == "option" and self._select and self.forms:
            fields = self.forms[-1].fields
            if "selected" in one or self._select not in fields:  # a browser sends the first option
                fields[self._select] = one.get("value", "")

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.text.append(" ".join(data.split()))


@dataclass(frozen=True)
class Page:
    """What a screen got: status, address after redirects, words, forms and links."""

    status: int
    path: str
    body: bytes

    @property
    def _parsed(self) -> _Forms:
        parser = _Forms()
        parser.feed(self.body.decode())
        return parser

    @property
    def words(self) -> str:
        """The words of the page on one line."""
        return " ".join(self._parsed.text)

    @property
    def links(self) -> list[str]:
        """The addresses that the page links to on this site, without their fragments."""
        found = (urllib.parse.urljoin(self.path, link).partition("#")[0] for link in self._parsed.links)
        return [link for link in dict.fromkeys(found) if link.startswith("/")]

    def form(self, action: str = "") -> Form:
        """Return the page's first form, beside that which signs out, or the one that goes to `action`.

        "." is the form that goes to the page itself.
        """
        every = [
            one for one in self._parsed.forms if action == "/sign-out" or not one.action.endswith("/sign-out")
        ]
        own = [one for one in every if not one.action]
        forms = own if action == "." else [one for one in every if one.action.endswith(action)]
        assert forms, f"no form to {action or 'anywhere'} on {self.path}: {self.words[:400]}"
        return forms[0]


class Screen:
    """A browser without a script on one device."""

    def __init__(self, base: str, tls: ssl.SSLContext | None = None) -> None:
        self.base, self.cookies = base, CookieJar()
        cookies = urllib.request.HTTPCookieProcessor(self.cookies)
        self._opener = urllib.request.build_opener(cookies, urllib.request.HTTPSHandler(context=tls))

    def get(self, path: str) -> Page:
        """Open a page."""
        return self._ask(urllib.request.Request(self.base + path))

    def submit(self, page: Page, action: str = "", /, **typed: str | Sequence[str]) -> Page:
        """Send a form of a page with what is typed into it, lists for ticks; redirects are followed."""
        form = page.form(action)
        sent = urllib.parse.urlencode({**form.fields, **typed}, doseq=True).encode()
        address = urllib.parse.urljoin(self.base + page.path, form.action or page.path)
        return self._ask(urllib.request.Request(address, data=sent, headers={"Origin": self.base}))

    def upload(self, page: Page, files: Mapping[str, str]) -> Page:
        """Send files with the page's form."""
        mark = uuid.uuid4().hex
        parts = [(f'name="{name}"', value) for name, value in page.form().fields.items()]
        parts += [(f'name="files"; filename="{name}"', text) for name, text in files.items()]
        body = "".join(
            f"--{mark}\r\nContent-Disposition: form-data; {head}\r\n\r\n{text}\r\n" for head, text in parts
        )
        headers = {"Origin": self.base, "Content-Type": f"multipart/form-data; boundary={mark}"}
        request = urllib.request.Request(
            self.base + page.path, data=f"{body}--{mark}--\r\n".encode(), headers=headers
        )
        return self._ask(request)

    def send_json(self, path: str, token: str, body: object) -> tuple[int, object]:
        """Send JSON as an instrument with a token does; return status and answer."""
        headers = {"Content-Type": "application/json", "Authorization": f"Bearer {token}"}
        page = self._ask(
            urllib.request.Request(self.base + path, data=json.dumps(body).encode(), headers=headers)
        )
        return page.status, json.loads(page.body)

    def send_entries(self, *rows: Mapping[str, object]) -> tuple[int, list[dict[str, object]]]:
        """Send entries as a tablet's queue does, each with a new key; return status and answers."""
        sent = [{"key": uuid.uuid4().hex, **row} for row in rows]
        headers = {"Content-Type": "application/json", "Origin": self.base}
        body = json.dumps(sent).encode()
        page = self._ask(urllib.request.Request(f"{self.base}/staff/intake", data=body, headers=headers))
        return page.status, json.loads(page.body)["answers"] if page.status == 200 else []

    def room(self, tour: str) -> dict[str, Any]:
        """Return the state of a tour's room, as its script reads it."""
        state: dict[str, Any] = json.loads(self.get(f"{tour}/tasting/state").body)
        return state

    def press(self, tour: str, seat: int = 0) -> dict[str, object]:
        """Pour the next sample for the guest at a seat, as a press in the room does; return the answer."""
        room = self.room(tour)
        guest = room["guests"][seat]
        glass = room["glasses"][room["flight"][guest["flight"].index("")]["glass"]]
        believed = {"count": guest["count"], "skipped": guest["skipped"], "as_of": _instant(room["known_at"])}
        row = {"ledger": "pours", "guest": guest["id"], "believed": believed}
        row |= {"product": glass["product"], "volume_ul": glass["volume_ul"]}
        status, (answer,) = self.send_entries(row)
        assert status == 200
        return answer

    def _ask(self, request: urllib.request.Request) -> Page:
        try:
            with self._opener.open(request, timeout=60) as answer:
                return _page(answer.status, answer.url, answer.read())
        except urllib.error.HTTPError as error:
            return _page(error.code, error.url or request.full_url, error.read())


def _instant(milliseconds: int) -> str:
    return datetime.fromtimestamp(milliseconds / 1000, UTC).isoformat()


def _page(status: int, url: str, body: bytes) -> Page:
    parts = urllib.parse.urlsplit(url)
    return Page(status, parts.path + (f"?{parts.query}" if parts.query else ""), body)


def first_manager(house: House) -> Screen:
    """Enrol the first tablet by the printed code and sign Rosa in on it, the first manager."""
    screen = house.screen()
    page = screen.submit(
        screen.get("/staff/enrol"), code=house.code, name="Rosa", pin=PIN, pin_again=PIN, language="en"
    )
    assert page.status == 200, page.words
    sign_in(screen, "Rosa", PIN)
    assert screen.get("/staff/").path == "/staff/"
    return screen


def sign_in(screen: Screen, name: str, pin: str) -> Page:
    """Sign a person in by name and PIN; return the page that follows."""
    page = screen.get("/staff/sign-in")
    person = re.findall(rf'name="person" value="(\d+)"[^>]*>\s*(?:<[^>]+>\s*)*{name}', page.body.decode())
    return screen.submit(page, ".", person=person[0], pin=pin)
