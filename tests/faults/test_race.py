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

from kiosk.store.tables.tasting import pours, refusals
from tests.faults.handling import Client, ask, stop
from tests.faults.server import ROOT, begun

pytestmark = pytest.mark.faults

REPEATS = [40, pytest.param(200, marks=pytest.mark.deep)]
PROCESSES, THREADS = 4, 4
UNTIL_ALL_ARE_THERE_S = 4
STOPS = [10, pytest.param(200, marks=pytest.mark.deep)]


def start_tablets(port, start, guests):
    command = [sys.executable, "-m", "tests.faults.clients", str(port), str(THREADS), str(start)]
    return subprocess.Popen([*command, *map(str, guests)], cwd=ROOT, stdout=subprocess.PIPE, text=True)


@pytest.mark.parametrize("repeats", REPEATS)
def test_of_sixteen_tablets_one_gets_the_last_sample(house, repeats):
    guests = begun(house.folder, house.url, guests=repeats, most=1)
    with ExitStack() as stack:
        ports = [stack.enter_context(house.serve(1)).port for _ in range(house.servers)]
        start = time.time() + UNTIL_ALL_ARE_THERE_S
        tablets = [start_tablets(ports[n % len(ports)], start, guests) for n in range(PROCESSES)]
        asked = [line for tablet in tablets for line in json.loads(tablet.communicate(timeout=300)[0])]
    assert Counter(guest for guest, _ in asked) == dict.fromkeys(guests, PROCESSES * THREADS)
    granted, refused = (
        house.read(pours.c.guest_id, pours.c.key),
        house.read(refusals.c.guest_id, refusals.c.key),
    )
    assert Counter(guest for guest, _ in granted) == dict.fromkeys(guests, 1)
    assert sorted([*granted, *refused]) == sorted(map(tuple, asked))


@pytest.mark.parametrize("stops", STOPS)
def test_after_an_acknowledged_stop_nothing_is_granted(house, stops):
    guests = begun(house.folder, house.url, guests=stops, most=1000)
    late = []
    with ExitStack() as stack:
        ports = [stack.enter_context(house.serve(1000)).port for _ in range(house.servers)]
        for guest in guests:
            race_a_stop(ports, guest, late)
    assert len(late) == stops * 4 * 3
    granted, refused = house.read(pours.c.key), house.read(refusals.c.key)
    assert {key for (key,) in granted}.isdisjoint(late)
    assert {key for (key,) in refused} >= set(late)
    assert len(granted) >= stops  # before it they were


def race_a_stop(ports, guest, late):
    """Send from four tablets while a fifth ends service."""
    stopped, poured = threading.Event(), threading.Event()
    tapping = [
        threading.Thread(target=tap_on, args=(ports[n % len(ports)], guest, poured, stopped, late))
        for n in range(4)
    ]
    for tablet in tapping:
        tablet.start()
    assert poured.wait(timeout=30)
    stopper = Client(ports[-1])
    stopper.enter(stop(guest))
    stopped.set()
    for tablet in tapping:
        tablet.join()
    stopper.close()


def tap_on(port, guest, poured, stopped, late):
    """Send entries until the stop was answered, then three times more; remember the keys of those."""
    client = Client(port)
    while not stopped.is_set():
        client.enter(ask(guest))
        poured.set()
    for _ in range(3):
        (answer,) = client.enter(ask(guest))
        late.append(answer["key"])
    client.close()
