"""What guests' phones cost a pour: 60 phones read stops and bottlings while four tablets pour.

Run as `python -m tests.benchmarks.bench_crowd [--rounds 3] [--seconds 20]`. One server, as
`kiosk serve` runs it, on the demo's records; each phone keeps six connections. In each
round the tablets pour in a quiet house and then in a full one; the p99 of a pour in the
full house is asked to be at most three times that of the quiet one, and no pour is lost.
Phones: a page, its pictures and papers at once on six connections, then a second of reading.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, insert, select

from kiosk.app import create_app, site_clock
from kiosk.cli.server import serve_app
from kiosk.demo import prepare_demo
from kiosk.site.loading import load_site
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.tables.staff import devices, sessions
from kiosk.store.tables.tasting import pours
from tests.benchmarks.bench_pours import DEVICE, PERSON, send_all
from tests.faults.server import ROOT, free_port
from tests.tasting_room import Tasting, tasting_site

PHONES, CONNECTIONS, TABLETS, GUESTS = 60, 6, 4, 200
PAUSE_S = 0.05
READING_S = 1.0
ASKED = 3.0


def crowd_site(folder: Path, database: str) -> Site:
    """Return the demo's site with rules of a tasting that pours at any hour, without end."""
    site = load_site(folder, database=database)
    tasting = tasting_site(folder, limits=())
    policy = replace(tasting.policy, hours=())
    return replace(site, policy=policy, products={**site.products, **tasting.products})


def prepare(folder: Path) -> tuple[str, list[int], list[str]]:
    """Record the demo, checked guests, a tablet and a sign-in; return database, guests and guests' pages."""
    demo = prepare_demo(folder / "site", datetime.now(UTC), lambda _line: None)
    site, store = crowd_site(demo.folder, demo.database), open_store(demo.database)
    now = site_clock(site)()
    tasting = Tasting.begun(store, site, now, guests=GUESTS)
    tasting.check()
    with store.write() as session:
        tablet = {"name": "bench", "kind": "tablet", "enrolled_at": now}
        device = rows.insert(session, devices, {**tablet, "token_hash": site.keyed_hash("device", DEVICE)})
        signed = {"staff_id": tasting.ana, "device_id": device, "started_at": now, "seen_at": now}
        session.execute(insert(sessions).values(token_hash=site.keyed_hash("person", PERSON), **signed))
    app = create_app(site, store)
    client, pages = app.test_client(), [f"/en/stops/{slug}" for slug in app.extensions["kiosk"].content.stops]
    for lot in ("BL-01", "BL-02", "BL-03", "BL-04", "BL-05"):
        pages += [f"/en/bottles/{lot}", f"/en/bottles/{lot}/picture.pdf"]
    assert {client.get(page).status_code for page in pages} == {200}
    store.close()
    return demo.database, tasting.guests, pages


def run_server(folder: str, database: str, port: str) -> None:
    """Serve until told to stop."""
    app = create_app(crowd_site(Path(folder), database), open_store(database))
    serve_app(app, "127.0.0.1", int(port), lambda: print("ready", flush=True))


async def one_connection(port: int, pages: Sequence[str], until: float) -> int:
    """Read pages on one connection of a phone until a moment; return how many."""
    got = 0
    while time.time() < until:
        try:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            while time.time() < until:
                writer.write(
                    f"GET {random.choice(pages)} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
                )
                head = await reader.readuntil(b"\r\n\r\n")
                length = next(
                    int(line[15:])
                    for line in head.split(b"\r\n")
                    if line.lower().startswith(b"content-length:")
                )
                await reader.readexactly(length)
                got += 1
                await asyncio.sleep(READING_S * random.uniform(0.5, 1.5))
            writer.close()
        except (OSError, asyncio.IncompleteReadError):
            await asyncio.sleep(0.5)
    return got


async def crowd(port: int, pages: Sequence[str], seconds: float) -> int:
    """Let every phone read; return how many answers came."""
    until = time.time() + seconds
    readers = (one_connection(port, pages, until) for _ in range(PHONES * CONNECTIONS))
    return sum(await asyncio.gather(*readers))


def pour_for(port: int, guests: Sequence[int], seconds: float) -> list[float]:
    """Let every tablet pour for guests of its own in turn; return how long each pour took, in seconds."""

    def tablet(served: Sequence[int]) -> list[float]:
        took: list[float] = []
        until, turn = time.time() + seconds, 0
        while time.time() < until:
            took += send_all(port, served[turn : turn + 10], PAUSE_S)
            turn = (turn + 10) % len(served)
        return took

    with ThreadPoolExecutor(TABLETS) as pool:
        shares = [guests[n::TABLETS] for n in range(TABLETS)]
        return [t for took in pool.map(tablet, shares) for t in took]


@contextmanager
def server(folder: Path, database: str) -> Iterator[int]:
    """Run the server and give its port."""
    port = free_port()
    process = _python("server", str(folder), database, str(port))
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    try:
        yield port
    finally:
        process.terminate()
        process.communicate(timeout=60)


def _python(*arguments: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.benchmarks.bench_crowd", *arguments]
    return subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def _p99_ms(took: Sequence[float]) -> float:
    return statistics.quantiles(took, n=100)[98] * 1000


def _times(took: Sequence[float]) -> str:
    return f"p50 {statistics.median(took) * 1000:.1f} p99 {_p99_ms(took):.1f} worst {max(took) * 1000:.0f} ms"


def compare(rounds: int, seconds: float) -> None:
    """Pour in a quiet and in a full house, and print each round and the median of the ratios."""
    ratios, sent = [], 0
    with tempfile.TemporaryDirectory(prefix="bench-crowd-") as scratch:
        database, guests, pages = prepare(Path(scratch))
        store = open_store(database)
        with store.read() as session:
            before = session.scalar(select(func.count()).select_from(pours)) or 0
        with server(Path(scratch) / "site", database) as port:
            pour_for(port, guests, 2)  # not counted in the times
            sent = _count(store) - before
            for n in range(1, rounds + 1):
                quiet = pour_for(port, guests, seconds)
                phones = _python("phones", str(port), str(seconds + 4), *pages)
                time.sleep(2)
                full = pour_for(port, guests, seconds)
                answers = json.loads(phones.communicate()[0])
                sent += len(quiet) + len(full)
                ratios.append(_p99_ms(full) / _p99_ms(quiet))
                rate = answers / (seconds + 4)
                print(
                    f"round {n}: quiet {_times(quiet)} | full {_times(full)} | {len(full)} pours, "
                    f"{rate:.0f} pages/s | p99 x {ratios[-1]:.2f}",
                    flush=True,
                )
        lost = before + sent - _count(store)
        store.close()
    print(f"median: p99 x {statistics.median(ratios):.2f} (<= {ASKED}), {lost} of {sent} pours lost (0)")


def _count(store: object) -> int:
    with store.read() as session:  # type: ignore[attr-defined]
        return int(session.scalar(select(func.count()).select_from(pours)) or 0)


def main() -> None:
    """Run as server, as phones, or as the whole comparison."""
    match sys.argv[1:]:
        case ["server", *rest]:
            run_server(*rest)
        case ["phones", port, seconds, *pages]:
            print(asyncio.run(crowd(int(port), pages, float(seconds))))
        case rest:
            parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
            parser.add_argument("--rounds", type=int, default=3)
            parser.add_argument("--seconds", type=float, default=20)
            given = parser.parse_args(rest)
            compare(given.rounds, given.seconds)


if __name__ == "__main__":
    main()
