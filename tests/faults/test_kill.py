"""The server process killed under load: what was acknowledged is there, the rest once or not at all.

This is the death of a process, not the loss of power.
"""

from __future__ import annotations

import http.client
import random
import threading
import time

import pytest

from kiosk.store.tables.tasting import pours
from tests.faults.handling import Client, ask
from tests.faults.server import begun, free_port

pytestmark = pytest.mark.faults

KILLS = {"sqlite": (20, 100), "standard-module": (8, 30), "postgresql": (8, 30)}
"""How often the server is killed on each database: in every run, and in the deep one."""
SHORT = [pytest.param(house, short, id=house) for house, (short, _) in KILLS.items()]
DEEP = [
    pytest.param(house, deep, id=f"{house}-deep", marks=pytest.mark.deep)
    for house, (_, deep) in KILLS.items()
]
TABLETS = 4
NO_LIMIT = 1_000_000
GONE = (OSError, http.client.HTTPException)


class Tablet(threading.Thread):
    """Sends until the server is gone; remembers what was acknowledged and the one entry that was not."""

    def __init__(self, port, guest):
        super().__init__()
        self.port, self.guest = port, guest
        self.acknowledged = []
        self.unanswered = None

    def run(self):
        client = Client(self.port)
        while True:
            row = ask(self.guest)
            try:
                (answer,) = client.enter(row)
            except GONE:
                self.unanswered = row
                client.close()
                return
            assert answer["outcome"] == "poured"
            self.acknowledged.append(row["key"])


def send_until_killed(server, guests, after_s):
    """Kill a server while tablets send to it; return the tablets."""
    tablets = [Tablet(server.port, guest) for guest in guests]
    for tablet in tablets:
        tablet.start()
    time.sleep(after_s)
    server.kill()
    for tablet in tablets:
        tablet.join()
    return tablets


def send_again(port, rows):
    """Hand in what was never answered, as the tablets do, and return the keys."""
    client = Client(port)
    for row in rows:
        assert client.enter(row)[0]["outcome"] == "poured"
    client.close()
    return [row["key"] for row in rows]


@pytest.mark.parametrize(("house", "kills"), SHORT + DEEP, indirect=["house"])
def test_no_acknowledged_pour_is_lost_and_none_is_doubled(house, kills):
    guests = begun(house.folder, house.url, guests=TABLETS, most=NO_LIMIT)
    chance = random.Random(22)
    acknowledged, unanswered, port = [], [], free_port()
    for _ in range(kills):
        server = house.serve(NO_LIMIT, port)
        acknowledged += send_again(port, unanswered)
        tablets = send_until_killed(server, guests, chance.uniform(0.02, 0.3))
        acknowledged += [key for tablet in tablets for key in tablet.acknowledged]
        unanswered = [tablet.unanswered for tablet in tablets]
        found = [key for (key,) in house.read(pours.c.key)]
        assert len(found) == len(set(found))
        assert set(acknowledged) <= set(found)
        assert set(found) <= {*acknowledged, *(row["key"] for row in unanswered)}
    assert len(acknowledged) > kills * TABLETS
