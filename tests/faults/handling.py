"""What the tests of rough handling need: servers to end, tablets to send from, rows to read."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Column, NullPool, create_engine, select

from kiosk.store.ledgers import new_key
from kiosk.web.access import DEVICE_COOKIE, PERSON_COOKIE
from tests.faults.server import PERSON, ROOT, TOKEN, free_port
from tests.tasting_room import QUARTER_UL


class Nursery:
    """A process that forks servers, with one SQLite library for all of them."""

    def __init__(self, library: str) -> None:
        command = [sys.executable, "-m", "tests.faults.server"]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        environment = {**os.environ, "KIOSK_SQLITE": library}
        self._process = subprocess.Popen(command, cwd=ROOT, env=environment, text=True, **pipes)

    def start(self, folder: Path, url: str, port: int, most: int) -> int:
        """Start a server, wait until it listens, and return its process id."""
        ready, pid = self._tell(str(folder), url, port, most).split()
        assert ready == "ready"
        return int(pid)

    def end(self, pid: int, number: signal.Signals) -> int:
        """Send a signal to a server and return how it ended."""
        os.kill(pid, number)
        return int(self._tell(pid))

    def close(self) -> None:
        """End the nursery; its servers were ended one by one."""
        self._process.communicate()

    def _tell(self, *line: object) -> str:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(json.dumps(line), file=self._process.stdin, flush=True)
        return self._process.stdout.readline()


@dataclass
class House:
    """A database and the servers on it."""

    folder: Path
    url: str
    nursery: Nursery
    servers: int  # as many as may serve one such database at once
    library: str = ""

    def serve(self, most: int, port: int = 0) -> Running:
        """Start a server."""
        port = port or free_port()
        return Running(self.nursery, self.nursery.start(self.folder, self.url, port, most), port)

    def read(self, *columns: Column[Any]) -> list[Any]:
        """Read rows by a connection that has nothing to do with the app, and sets nothing."""
        engine = create_engine(self.url, poolclass=NullPool)
        with engine.connect() as connection:
            return list(connection.execute(select(*columns)))


@dataclass
class Running:
    """A server that listens; ended in good order at the end of a `with`."""

    nursery: Nursery
    pid: int
    port: int

    def kill(self) -> None:
        """End it in the middle of whatever it does."""
        assert self.nursery.end(self.pid, signal.SIGKILL) == -signal.SIGKILL

    def __enter__(self) -> Running:
        return self

    def __exit__(self, *_error: object) -> None:
        assert self.nursery.end(self.pid, signal.SIGTERM) == 0


class Client:
    """A tablet on one connection; OSError or HTTPException when the server is gone."""

    def __init__(self, port: int) -> None:
        self._origin = f"http://127.0.0.1:{port}"
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def send(self, *sent: Mapping[str, object], language: str = "en") -> tuple[int, Any]:
        """Send rows and return status and body of the answer."""
        headers = {
            "Content-Type": "application/json",
            "Accept": "application/json",
            "Accept-Language": language,
            "Origin": self._origin,
            "Cookie": f"{DEVICE_COOKIE}={TOKEN}; {PERSON_COOKIE}={PERSON}",
        }
        self._connection.request("POST", "/staff/intake", json.dumps(sent), headers)
        response = self._connection.getresponse()
        return response.status, json.loads(response.read())

    def enter(self, *sent: Mapping[str, object]) -> Sequence[Mapping[str, object]]:
        """Send rows and return the answers."""
        status, body = self.send(*sent)
        assert status == 200, body
        return body["answers"]

    def close(self) -> None:
        """Hang up."""
        self._connection.close()


def ask(guest: int, key: str | None = None) -> dict[str, object]:
    """Return the row of an entry for a sample."""
    row = {"ledger": "pours", "key": key or new_key(), "guest": guest, "by": 1}
    return {**row, "product": "blanco", "volume_ul": QUARTER_UL}


def stop(guest: int) -> dict[str, object]:
    """Return the row of an entry that ends service."""
    return {"ledger": "marks", "key": new_key(), "guest": guest, "kind": "service_stopped", "by": 1}
