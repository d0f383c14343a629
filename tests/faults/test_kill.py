"""The server process killed under load: what was acknowledged is there, the rest once or not at all.

This is the death of a process, not the loss of power.
"""

from __future__ import annotations

import http.client
import random
import threading
import time

import pytest
from sqlalchemy import select

from kiosk.store.engine import open_store
from kiosk.store.keys import new_key
from kiosk.store.tables.tasting import pours
from tests.faults.clients import ask
from tests.faults.server import Client, begun, free_port, start

pytestmark = pytest.mark.faults

KILLS = 20
TABLETS = 4
GONE = (OSError, http.client.HTTPException)


class Tablet(threading.Thread):
    """Taps until the server is gone; remembers what was acknowledged and the one tap that was not."""

    def __init__(self, port, guest):
        super().__init__()
        self.port, self.guest = port, guest
        self.acknowledged = []
        self.unanswered = None

    def run(self):
        client = Client(self.port)
        while True:
            row = ask(self.guest, new_key())
            try:
                (answer,) = client.tap(row)
            except GONE:
                self.unanswered = row
                client.close()
                return
            assert answer["outcome"] == "poured"
            self.acknowledged.append(row["key"])


def keys(url):
    """Read the keys of all pours by a connection of our own."""
    store = open_store(url)
    with store.read() as session:
        found = session.scalars(select(pours.c.key)).all()
    store.close()
    return found


def test_no_acknowledged_pour_is_lost_and_none_is_doubled(sqlite_database_url, tmp_path):
    tasting, _ = begun(tmp_path, sqlite_database_url, guests=TABLETS, most=1_000_000)
    tasting.store.close()
    chance = random.Random(22)
    acknowledged, unanswered, port = [], [], free_port()
    for _ in range(KILLS):
        server = start(tmp_path, sqlite_database_url, 1_000_000, port)
        retried = Client(port)
        for row in unanswered:  # the tablet sends again what was never answered
            assert retried.tap(row)[0]["outcome"] == "poured"
            acknowledged.append(row["key"])
        retried.close()
        tablets = [Tablet(port, guest) for guest in tasting.guests]
        for tablet in tablets:
            tablet.start()
        time.sleep(chance.uniform(0.05, 0.6))
        server.kill()
        server.wait()
        server.stdout.close()
        for tablet in tablets:
            tablet.join()
        acknowledged += [key for tablet in tablets for key in tablet.acknowledged]
        unanswered = [tablet.unanswered for tablet in tablets]
        found = keys(sqlite_database_url)
        assert len(found) == len(set(found))
        assert set(acknowledged) <= set(found)
        assert set(found) <= {*acknowledged, *(row["key"] for row in unanswered)}
    assert len(acknowledged) > KILLS * TABLETS
