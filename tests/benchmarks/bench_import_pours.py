"""What an import costs a pour: files of 7.7 MB are previewed and confirmed while four tablets pour.

Run as `python -m tests.benchmarks.bench_import_pours [--casks 24700]`. One server, as `kiosk serve`
runs it, on a fresh SQLite site. The tablets pour in a quiet house, then while the files are previewed,
then while they are recorded; the longest time for which one writer held the write gate is printed
too. No pour is lost, and every record is there in the end.
"""

from __future__ import annotations

import argparse
import http.client
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, insert, select

from kiosk.app import create_app
from kiosk.cli.server import serve_app
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import WriteGate, open_store
from kiosk.store.migrate import upgrade
from kiosk.store.tables.production import gauges
from kiosk.store.tables.staff import devices, sessions
from kiosk.store.tables.tasting import pours
from kiosk.web.access import DEVICE_COOKIE, PERSON_COOKIE
from tests.actors import hire
from tests.benchmarks.bench_crowd import pour_for
from tests.benchmarks.bench_import import write_records
from tests.benchmarks.bench_pours import DEVICE, PERSON
from tests.databases import sqlite_url
from tests.faults.server import ROOT, free_port
from tests.tasting_room import Tasting, tasting_site

CASKS, GUESTS = 24_700, 200
OFFICE, WRITER = "the-cookie-of-the-office", "the-cookie-of-the-writer"
QUIET_S = 15


def bench_site(folder: Path) -> Site:
    """Return a site that pours at any hour, without end."""
    site = tasting_site(folder, limits=())
    return replace(site, policy=replace(site.policy, hours=()))


def prepare(folder: Path, url: str) -> tuple[Site, list[int]]:
    """Record checked guests, a tablet with a person who pours, and a screen with one who writes."""
    upgrade(url)
    site, store, now = bench_site(folder), open_store(url), datetime.now(UTC)
    tasting = Tasting.begun(store, site, now, guests=GUESTS)
    tasting.check()
    writer = hire(store, site, now, "Wanda", ("production",))
    with store.write() as session:
        for name, device, person, who in (
            ("bench", DEVICE, PERSON, tasting.ana),
            ("office", OFFICE, WRITER, writer),
        ):
            values = {"name": name, "kind": "tablet", "enrolled_at": now}
            token = site.keyed_hash("device", device)
            device_id = rows.insert(session, devices, {**values, "token_hash": token})
            signed = {"staff_id": who, "device_id": device_id, "started_at": now, "seen_at": now}
            session.execute(insert(sessions).values(token_hash=site.keyed_hash("person", person), **signed))
    store.close()
    return site, tasting.guests


def run_server(folder: str, url: str, port: str) -> None:
    """Serve until told to stop, then print the longest time in milliseconds for which the gate was held."""
    longest, began = [0.0], [0.0]
    held = WriteGate.held

    @contextmanager
    def timed(gate: WriteGate) -> Iterator[None]:
        with held(gate):
            began[0] = time.perf_counter()
            try:
                yield
            finally:
                longest[0] = max(longest[0], time.perf_counter() - began[0])

    WriteGate.held = timed  # type: ignore[method-assign]
    app = create_app(bench_site(Path(folder)), open_store(url))
    serve_app(app, "127.0.0.1", int(port), lambda: print("ready", flush=True))
    print(f"{longest[0] * 1000:.0f}", flush=True)


class Office:
    """The screen on which the files are sent and confirmed."""

    def __init__(self, port: int) -> None:
        self._port = port

    def ask(self, method: str, path: str, body: bytes = b"", kind: str = "") -> tuple[int, str, str]:
        """Return status, text and `Location` of an answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=600)
        cookies = f"{DEVICE_COOKIE}={OFFICE}; {PERSON_COOKIE}={WRITER}"
        headers = {"Cookie": cookies, "Origin": f"http://127.0.0.1:{self._port}", "Content-Type": kind}
        connection.request(method, path, body, {name: value for name, value in headers.items() if value})
        answer = connection.getresponse()
        text = answer.read().decode()
        connection.close()
        return answer.status, text, answer.headers.get("Location", "")

    def preview(self, records: Path) -> tuple[str, bytes]:
        """Send files, and return address and body of the form that confirms them."""
        token = _field("form_token", self.ask("GET", "/staff/records/import")[1])
        parts = [_part('name="form_token"', token.encode())]
        for file in sorted(records.iterdir()):
            parts.append(_part(f'name="files"; filename="{file.name}"', file.read_bytes()))
        body = b"".join(parts) + b"--part--\r\n"
        form = "multipart/form-data; boundary=part"
        status, page, _ = self.ask("POST", "/staff/records/import", body, form)
        assert status == 200, page
        action = re.findall(r'action="(/staff/records/import/[0-9a-f]{64})"', page)[0]
        return action, f"form_token={_field('form_token', page)}&shown={_field('shown', page)}".encode()

    def confirm(self, action: str, body: bytes) -> None:
        """Record what was previewed."""
        status, page, _ = self.ask("POST", action, body, "application/x-www-form-urlencoded")
        assert status in (302, 303), page


def _part(named: str, content: bytes) -> bytes:
    return f"--part\r\nContent-Disposition: form-data; {named}\r\n\r\n".encode() + content + b"\r\n"


def _field(name: str, page: str) -> str:
    return re.findall(rf'name="{name}" value="([^"]*)"', page)[0]


class Tablets(threading.Thread):
    """Four tablets that pour until `stop` is called."""

    def __init__(self, port: int, guests: Sequence[int]) -> None:
        super().__init__()
        self._port, self._guests, self.took, self._stopping = port, guests, list[float](), threading.Event()

    def run(self) -> None:
        """Pour a second's worth at a time."""
        while not self._stopping.is_set():
            self.took += pour_for(self._port, self._guests, 1)

    def stop(self) -> list[float]:
        """Return how long each pour took."""
        self._stopping.set()
        self.join()
        return self.took


def times(took: Sequence[float]) -> str:
    """Return the middle, the p99 and the worst of some times."""
    p99 = statistics.quantiles(took, n=100)[98]
    return f"p50 {statistics.median(took) * 1000:.1f} p99 {p99 * 1000:.1f} worst {max(took) * 1000:.0f} ms"


def during(port: int, guests: Sequence[int], name: str, work: object) -> tuple[object, int]:
    """Do a work while the tablets pour, print what both took, and return its answer and the pours."""
    tablets, began = Tablets(port, guests), time.perf_counter()
    tablets.start()
    answer = work()  # type: ignore[operator]
    took_s = time.perf_counter() - began
    pours_took = tablets.stop()
    print(f"{name}: {took_s:.1f} s | {len(pours_took)} pours, {times(pours_took)}", flush=True)
    return answer, len(pours_took)


def measure(casks: int) -> None:
    """Run the three parts and print them."""
    with tempfile.TemporaryDirectory(prefix="bench-import-") as scratch:
        folder, url = Path(scratch), sqlite_url(Path(scratch) / "kiosk.sqlite")
        write_records(folder / "records", casks)
        size = sum(path.stat().st_size for path in (folder / "records").iterdir()) / 1e6
        print(f"{casks} casks, {casks * 3} gauges, {size:.1f} MB")
        _site, guests = prepare(folder, url)
        store, port = open_store(url), free_port()
        command = [sys.executable, "-m", "tests.benchmarks.bench_import_pours", "server", str(folder), url]
        server = subprocess.Popen([*command, str(port)], cwd=ROOT, stdout=subprocess.PIPE, text=True)
        assert server.stdout is not None
        assert server.stdout.readline() == "ready\n"
        office, sent = Office(port), 0
        try:
            sent += during(port, guests, "quiet", lambda: time.sleep(QUIET_S))[1]
            form, n = during(port, guests, "preview", lambda: office.preview(folder / "records"))
            _, m = during(port, guests, "confirm", lambda: office.confirm(*form))  # type: ignore[misc]
            sent += n + m
        finally:
            server.terminate()
            longest = server.communicate(timeout=60)[0].split()
        with store.read() as session:
            poured = session.scalar(select(func.count()).select_from(pours)) or 0
            recorded = session.scalar(select(func.count()).select_from(gauges)) or 0
        store.close()
    print(f"longest hold of the write gate {longest[-1]} ms; {sent - poured} of {sent} pours lost (0)")
    print(f"{recorded} of {casks * 3} gauges recorded")


def main() -> None:
    """Run as server, or as the whole measurement."""
    match sys.argv[1:]:
        case ["server", *rest]:
            run_server(*rest)
        case rest:
            parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
            parser.add_argument("--casks", type=int, default=CASKS)
            measure(parser.parse_args(rest).casks)


if __name__ == "__main__":
    main()
