"""A tasting served for rough handling: the real app on the real server, in processes of their own.

Run as `python -m tests.faults.server` it imports everything once and then, for each
line `[folder, url, port, most]` on its standard input, forks a process that serves,
which is as whole a server as one started from nothing, and there in a tenth of the
time. It prints "ready PID" when that one listens; for a line `[PID]` it waits until
the server is gone and prints how it ended.
"""

from __future__ import annotations

import json
import os
import socket
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import insert, update

from kiosk.app import create_app
from kiosk.cli.server import serve_app
from kiosk.figures.drinks import Kind, Limit
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.staff import devices, sessions, staff
from tests.tasting_room import Tasting, tasting_site

TOKEN = "the-cookie-of-a-tablet-in-a-test"
PERSON = "the-cookie-of-the-person-who-pours-on-it"
ROOT = Path(__file__).parents[2]


def faults_site(folder: Path, most: int) -> Site:
    """Return a site that pours at any hour, `most` samples a day."""
    site = tasting_site(folder, limits=(Limit("day_pours", Kind.POURS, "day", most),))
    return replace(site, policy=replace(site.policy, hours=()))


def begun(folder: Path, url: str, *, guests: int, most: int) -> list[int]:
    """Record a tasting of checked guests and an enrolled tablet on a database; return the guests."""
    store, now = open_store(url), datetime.now(UTC)
    site = faults_site(folder, most)
    tasting = Tasting.begun(store, site, now, guests=guests)
    tasting.check()
    values = {"name": "faults", "kind": "tablet", "enrolled_at": now}
    with store.write() as session:
        tablet = rows.insert(session, devices, {**values, "token_hash": site.keyed_hash("device", TOKEN)})
        signed_in = {"staff_id": tasting.ana, "device_id": tablet, "started_at": now, "seen_at": now}
        session.execute(update(staff).where(staff.c.id == tasting.ana).values(languages=["es"]))
        session.execute(insert(sessions).values(token_hash=site.keyed_hash("person", PERSON), **signed_in))
    store.close()
    return tasting.guests


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def serve_tasting(folder: str, url: str, port: int, most: int) -> None:
    """Serve until told to stop."""
    app = create_app(
        faults_site(Path(folder), most), open_store(url), features=("web", "staff", "entries", "tasting")
    )
    serve_app(app, "127.0.0.1", port, lambda: print("ready", os.getpid(), flush=True))


def main() -> None:
    """Fork a server, or wait for the end of one, for each line."""
    for line in sys.stdin:
        told = json.loads(line)
        if len(told) == 1:
            print(os.waitstatus_to_exitcode(os.waitpid(told[0], 0)[1]), flush=True)
        elif os.fork() == 0:
            serve_tasting(*told)
            os._exit(0)


if __name__ == "__main__":
    main()
