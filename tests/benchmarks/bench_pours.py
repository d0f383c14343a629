"""What a pour costs: POST /staff/intake on the real server against a bare route with one durable insert.

Run as `python -m tests.benchmarks.bench_pours [--rounds 3] [--pours 2400]`. Both servers
are waitress in a process of their own on a fresh SQLite file with the store's own
settings; 16 clients in four processes keep their connections open. The two take
turns within each round, so that a busy machine slows both; read the ratios. Asked
for: at least 0.4 of the bare rate, and a p99 below twice the bare one.
"""

from __future__ import annotations

import argparse
import http.client
import json
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

from flask import Flask, jsonify, request
from sqlalchemy import insert

from kiosk.app import create_app
from kiosk.cli.server import serve_app
from kiosk.site.settings import Site
from kiosk.store import rows
from kiosk.store.engine import open_store
from kiosk.store.ledgers import new_key
from kiosk.store.migrate import upgrade
from kiosk.store.tables.shared import changes
from kiosk.store.tables.staff import devices, sessions
from kiosk.web.access import DEVICE_COOKIE, PERSON_COOKIE
from tests.databases import sqlite_url
from tests.faults.server import ROOT, free_port
from tests.tasting_room import QUARTER_UL, Tasting, tasting_site

DEVICE, PERSON = "the-cookie-of-the-tablet", "the-cookie-of-the-sign-in"
PROCESSES, THREADS = 4, 4
PER_GUEST = 6
WARM_UP = 30


def bench_site(folder: Path) -> Site:
    """Return a site with the usual four limits that pours at any hour."""
    site = tasting_site(folder)
    return replace(site, policy=replace(site.policy, hours=()))


def prepare(folder: Path, url: str, guests: int) -> list[int]:
    """Record checked guests, an enrolled tablet and a sign-in; return the guests' ids."""
    site, store, now = bench_site(folder), open_store(url), datetime.now(UTC)
    tasting = Tasting.begun(store, site, now, guests=guests)
    tasting.check()
    with store.write() as session:
        tablet = {"name": "bench", "kind": "tablet", "enrolled_at": now}
        device = rows.insert(session, devices, {**tablet, "token_hash": site.keyed_hash("device", DEVICE)})
        signed = {"staff_id": tasting.ana, "device_id": device, "started_at": now, "seen_at": now}
        session.execute(insert(sessions).values(token_hash=site.keyed_hash("person", PERSON), **signed))
    store.close()
    return tasting.guests


def bare_app(url: str) -> Flask:
    """Return an app with one route: take JSON, insert a row durably, answer JSON."""
    app, store, row = Flask("bare"), open_store(url), insert(changes)

    @app.post("/staff/intake")
    def take() -> object:
        (sent,) = request.get_json()
        with store.write() as session:
            session.connection().execute(row, {"subject": sent["key"], "n": sent["volume_ul"]})
        return jsonify({"answers": [{"key": sent["key"], "outcome": "poured"}]})

    return app


def run_server(kind: str, folder: str, url: str, port: str) -> None:
    """Serve one of the two apps until told to stop."""
    if kind == "kiosk":
        site = bench_site(Path(folder))
        app = create_app(site, open_store(url), features=("web", "staff", "entries", "tasting"))
    else:
        app = bare_app(url)
    serve_app(app, "127.0.0.1", int(port), lambda: print("ready", flush=True))


def send_all(port: int, guests: Sequence[int], pause_s: float = 0) -> list[float]:
    """Send for each guest in turn on one connection; return how long each took, in seconds."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {
        "Content-Type": "application/json",
        "Accept": "application/json",
        "Origin": f"http://127.0.0.1:{port}",
        "Cookie": f"{DEVICE_COOKIE}={DEVICE}; {PERSON_COOKIE}={PERSON}",
    }
    took = []
    for guest in guests:
        row = {"ledger": "pours", "key": new_key(), "guest": guest, "product": "blanco"}
        body = json.dumps([{**row, "volume_ul": QUARTER_UL}])
        began = time.perf_counter()
        connection.request("POST", "/staff/intake", body, headers)
        answer = json.loads(connection.getresponse().read())["answers"][0]
        took.append(time.perf_counter() - began)
        if answer["outcome"] != "poured":
            raise AssertionError(answer)
        time.sleep(pause_s)
    connection.close()
    return took


def run_clients(port: str, *guests: str) -> None:
    """Send from several threads, each for guests of its own; print the times of all."""
    wanted = [int(guest) for guest in guests]
    print("ready", flush=True)
    sys.stdin.readline()  # all clients begin together, their imports behind them
    with ThreadPoolExecutor(THREADS) as pool:
        shares = [wanted[n::THREADS] * PER_GUEST for n in range(THREADS)]
        print(json.dumps([t for took in pool.map(lambda s: send_all(int(port), s), shares) for t in took]))


@contextmanager
def server(kind: str, folder: Path, url: str) -> Iterator[int]:
    """Run one of the servers and give its port."""
    port = free_port()
    process = _python("server", kind, str(folder), url, str(port))
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    try:
        yield port
    finally:
        process.terminate()
        process.communicate(timeout=30)


def measure(kind: str, pours: int) -> tuple[float, float]:
    """Return pours a second and the p99 in milliseconds on a fresh database."""
    with tempfile.TemporaryDirectory(prefix="bench-pours-") as scratch:
        folder = Path(scratch)
        url = sqlite_url(folder / "kiosk.sqlite")
        upgrade(url)
        guests = prepare(folder, url, WARM_UP + pours // PER_GUEST)
        with server(kind, folder, url) as port:
            send_all(port, guests[:WARM_UP])
            shares = [guests[WARM_UP + n :: PROCESSES] for n in range(PROCESSES)]
            clients = [_python("clients", str(port), *map(str, share)) for share in shares]
            for client in clients:
                assert client.stdout is not None
                assert client.stdout.readline() == "ready\n"
            began = time.perf_counter()
            for client in clients:
                assert client.stdin is not None
                client.stdin.write("go\n")
                client.stdin.flush()
            took = [t for client in clients for t in json.loads(client.communicate()[0])]
            passed = time.perf_counter() - began
    return len(took) / passed, statistics.quantiles(took, n=100)[98] * 1000


def _python(*arguments: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.benchmarks.bench_pours", *arguments]
    return subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def compare(rounds: int, pours: int) -> None:
    """Measure both in turn and print each round and the medians of the ratios."""
    rates, tails = [], []
    for n in range(1, rounds + 1):
        bare_rate, bare_p99 = measure("bare", pours)
        rate, p99 = measure("kiosk", pours)
        rates.append(rate / bare_rate)
        tails.append(p99 / bare_p99)
        print(
            f"round {n}: bare {bare_rate:6.0f}/s p99 {bare_p99:5.1f} ms | kiosk {rate:6.0f}/s p99 {p99:5.1f}"
            f" | rate x {rates[-1]:.2f}, p99 x {tails[-1]:.2f}",
            flush=True,
        )
    print(
        f"median: rate x {statistics.median(rates):.2f} (>= 0.4), p99 x {statistics.median(tails):.2f} (< 2)"
    )


def main() -> None:
    """Run as server, as clients, or as the whole comparison."""
    match sys.argv[1:]:
        case ["server", *rest]:
            run_server(*rest)
        case ["clients", *rest]:
            run_clients(*rest)
        case rest:
            parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
            parser.add_argument("--rounds", type=int, default=3)
            parser.add_argument("--pours", type=int, default=2400)
            given = parser.parse_args(rest)
            compare(given.rounds, given.pours)


if __name__ == "__main__":
    main()
