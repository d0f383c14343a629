"""Sixteen tablets for the last sample: exactly one is granted, as a second connection reads it."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections import Counter
from contextlib import ExitStack

import pytest
from sqlalchemy import func, select

from kiosk.store.engine import open_store
from kiosk.store.keys import new_key
from kiosk.store.tables.tasting import pours
from tests.faults.clients import ask
from tests.faults.server import ROOT, Client, begun, running

pytestmark = pytest.mark.faults

REPEATS = 30
PROCESSES, THREADS = 4, 4
SERVERS = {"sqlite": 1, "postgresql": 2}  # one process serves a SQLite site


def poured(url):
    """Read the pours of each guest by a connection of our own."""
    store = open_store(url)
    with store.read() as session:
        by_guest = session.execute(select(pours.c.guest_id, func.count()).group_by(pours.c.guest_id))
        found = {row.guest_id: row[1] for row in by_guest}
    store.close()
    return found


def start_tablets(port, start, guests):
    command = [sys.executable, "-m", "tests.faults.clients", str(port), str(THREADS), str(start)]
    return subprocess.Popen([*command, *map(str, guests)], cwd=ROOT, stdout=subprocess.PIPE, text=True)


def test_of_sixteen_tablets_one_gets_the_last_sample(database_url, tmp_path):
    tasting, _ = begun(tmp_path, database_url, guests=REPEATS, most=1)
    with ExitStack() as stack:
        kind = tasting.store.dialect
        tasting.store.close()
        ports = [stack.enter_context(running(tmp_path, database_url, 1)) for _ in range(SERVERS[kind])]
        start = time.time() + 4
        tablets = [start_tablets(ports[n % len(ports)], start, tasting.guests) for n in range(PROCESSES)]
        told = [line for tablet in tablets for line in json.loads(tablet.communicate(timeout=60)[0])]
    assert Counter(guest for guest, _ in told) == dict.fromkeys(tasting.guests, PROCESSES * THREADS)
    granted = Counter(guest for guest, outcome in told if outcome == "poured")
    assert granted == dict.fromkeys(tasting.guests, 1)
    assert poured(database_url) == dict.fromkeys(tasting.guests, 1)


def test_after_an_acknowledged_stop_nothing_is_granted(database_url, tmp_path):
    tasting, _ = begun(tmp_path, database_url, guests=8, most=1000)
    tasting.store.close()
    late: list[object] = []
    with running(tmp_path, database_url, 1000) as port:
        for guest in tasting.guests:
            stopped = threading.Event()
            tablets = [threading.Thread(target=tap_on, args=(port, guest, stopped, late)) for _ in range(4)]
            for tablet in tablets:
                tablet.start()
            stopper = Client(port)
            stopper.tap({"ledger": "marks", "key": new_key(), "guest": guest, "kind": "stopped", "by": 1})
            stopped.set()
            for tablet in tablets:
                tablet.join()
            stopper.close()
    assert len(late) == 8 * 4 * 3
    assert set(late) == {"refused"}


def tap_on(port, guest, stopped, late):
    """Tap until the stop was answered, then three times more and note what those were told."""
    client = Client(port)
    while not stopped.is_set():
        client.tap(ask(guest))
    for _ in range(3):
        late.append(client.tap(ask(guest))[0]["outcome"])
    client.close()
