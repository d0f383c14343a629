"""A tasting served for rough handling: the real app on the real server, in a process of its own.

Run as `python -m tests.faults.server FOLDER DATABASE PORT`; prints "ready" when it listens.
"""

from __future__ import annotations

import http.client
import json
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from kiosk.app import create_app
from kiosk.figures.drinks import Kind, Limit
from kiosk.serving import serve
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.staff import devices
from kiosk.web.access import DEVICE_COOKIE
from kiosk.web.tokens import hashed
from tests.tasting_room import Tasting, tasting_site

TOKEN = "the-cookie-of-a-tablet-in-a-test"
ROOT = Path(__file__).parents[2]


def faults_site(folder: Path, most: int) -> Site:
    """Return a site that pours at any hour, `most` samples a day."""
    site = tasting_site(folder, limits=(Limit("day_pours", Kind.POURS, "day", most),))
    return replace(site, policy=replace(site.policy, hours=()))


def begun(folder: Path, url: str, *, guests: int, most: int) -> tuple[Tasting, int]:
    """Record a tasting of checked guests on a database; return it and the enrolled tablet's id."""
    store, now = open_store(url), datetime.now(UTC)
    site = faults_site(folder, most)
    tasting = Tasting.begun(store, site, now, guests=guests)
    tasting.check()
    values = {"name": "faults", "kind": "tablet", "enrolled_at": now}
    with store.write() as session:
        device = rows.insert(session, devices, {**values, "token_hash": hashed(site, "device", TOKEN)})
    return tasting, device


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def start(folder: Path, url: str, most: int, port: int) -> subprocess.Popen[str]:
    """Start a server process and wait until it listens."""
    command = [sys.executable, "-m", "tests.faults.server", str(folder), url, str(port), str(most)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


@contextmanager
def running(folder: Path, url: str, most: int) -> Iterator[int]:
    """Run a server process and give its port; stop it in the end."""
    port = free_port()
    process = start(folder, url, most, port)
    try:
        yield port
    finally:
        process.terminate()
        assert process.wait(timeout=30) == 0
        assert process.stdout is not None
        process.stdout.close()


class Client:
    """A tablet on one connection; OSError or HTTPException when the server is gone."""

    def __init__(self, port: int) -> None:
        self._origin = f"http://127.0.0.1:{port}"
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)

    def tap(self, *sent: Mapping[str, object]) -> Sequence[Mapping[str, object]]:
        """Send rows and return the answers."""
        headers = {
            "Content-Type": "application/json",
            "Accept": "application/json",
            "Origin": self._origin,
            "Cookie": f"{DEVICE_COOKIE}={TOKEN}",
        }
        self._connection.request("POST", "/staff/intake", json.dumps(sent), headers)
        response = self._connection.getresponse()
        body = json.loads(response.read())
        if response.status != 200:
            raise AssertionError(f"{response.status}: {body}")
        return body["answers"]

    def close(self) -> None:
        """Hang up."""
        self._connection.close()


def main(folder: str, url: str, port: str, most: str) -> None:
    """Serve until told to stop."""
    app = create_app(
        faults_site(Path(folder), int(most)), open_store(url), features=("web", "staff", "tasting")
    )
    serve(app, "127.0.0.1", int(port), lambda: print("ready", flush=True))


if __name__ == "__main__":
    main(*sys.argv[1:])
