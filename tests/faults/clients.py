"""Tablets in a process of their own, all tapping for the same guest at the same moment.

Run as `python -m tests.faults.clients PORT THREADS START GUEST...`: at START and every
slot after it each thread asks for a sample for the next guest. Prints one JSON
list of [guest, key].
"""

from __future__ import annotations

import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor

from tests.faults.handling import Client, ask

SLOT_S = 0.08


def one_tablet(port: int, start: float, guests: list[int]) -> list[tuple[int, object]]:
    """Ask once for each guest, each in its slot."""
    client, told = Client(port), []
    for n, guest in enumerate(guests):
        time.sleep(max(0.0, start + n * SLOT_S - time.time()))
        (answer,) = client.enter(ask(guest))
        told.append((guest, answer["key"]))
    client.close()
    return told


def main(port: str, threads: str, start: str, *guests: str) -> None:
    """Run the tablets and print what they asked."""
    wanted = [int(guest) for guest in guests]
    with ThreadPoolExecutor(int(threads)) as pool:
        tablets = [pool.submit(one_tablet, int(port), float(start), wanted) for _ in range(int(threads))]
        print(json.dumps([line for tablet in tablets for line in tablet.result()]))


if __name__ == "__main__":
    main(*sys.argv[1:])
