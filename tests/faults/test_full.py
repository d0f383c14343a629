"""A disk without room: told in the tablet's language, nothing acknowledged is lost, and it goes on.

Once by a real file system without a byte left (ENOSPC), where the machine lets the
test mount one; and everywhere by the kernel's limit on the size of a file (EFBIG,
setrlimit(2)), which can be lifted from outside while the server runs.
"""

from __future__ import annotations

import resource
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from kiosk.store.tables.tasting import pours
from tests.databases import migrated_file, sqlite_url
from tests.faults.handling import Client, House, ask
from tests.faults.server import begun

pytestmark = pytest.mark.faults

NO_LIMIT = 1_000_000
MOST_ENTRIES = 5_000
SIZE = "6m"
ROOM_LEFT_B = 200_000


def send_until_refused(client, guest, language):
    """Send entries until an answer is not 200; return the keys that were answered, the row, the answer."""
    acknowledged = []
    for _ in range(MOST_ENTRIES):
        row = ask(guest)
        status, body = client.send(row, language=language)
        if status != 200:
            return acknowledged, row, (status, body)
        assert body["answers"][0]["outcome"] == "poured"
        acknowledged.append(row["key"])
    raise AssertionError("the disk never filled")


def tap_on(client, guest):
    """Send a few more: a glass may still fit where another did not. Return keys answered, rows not."""
    rows = [ask(guest) for _ in range(5)]
    told = [client.send(row)[0] for row in rows]
    assert set(told) <= {200, 503}
    answered = [row["key"] for row, status in zip(rows, told, strict=True) if status == 200]
    return answered, [row for row in rows if row["key"] not in answered]


def fill_and_go_on(house, fill, make_room, error, said):
    """Send to a server, fill its disk, send on, make room, send again; compare with the rows."""
    (guest,) = begun(house.folder, house.url, guests=1, most=NO_LIMIT)
    with house.serve(NO_LIMIT) as server:
        client = Client(server.port)
        client.enter(ask(guest))
        fill(server.pid)
        acknowledged, row, (status, body) = send_until_refused(client, guest, "es")
        assert (status, body["error"]) == (503, error)
        assert said in body["sentence"]
        assert "answers" not in body  # the tablet keeps the entry
        more, unsent = tap_on(client, guest)
        acknowledged, unsent = acknowledged + more, [row, *unsent, ask(guest)]
        assert {key for (key,) in house.read(pours.c.key)} >= set(acknowledged)
        make_room(server.pid)
        assert {answer["outcome"] for answer in client.enter(*unsent)} == {"poured"}
        client.close()
    found = [key for (key,) in house.read(pours.c.key)]
    assert len(found) == len(set(found)) == len(acknowledged) + len(unsent) + 1


@pytest.mark.parametrize("house", ["sqlite", "standard-module"], indirect=True)
def test_a_database_that_the_system_lets_grow_no_more(house):
    def limit(pid):
        largest = max(path.stat().st_size for path in house.folder.glob("kiosk.sqlite*"))
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (largest + 50_000, resource.RLIM_INFINITY))

    def lift(pid):
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    fill_and_go_on(house, limit, lift, "unwritable", "no se pueden escribir")


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Mount a file system of a few megabytes; skip where that is not allowed."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "kiosk-test", str(folder)]
    try:
        done = subprocess.run(mount, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("there is no mount on this machine")
    if done.returncode:
        pytest.skip(f"this machine lets no test mount a small disk: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize("library", ["", "stdlib"], ids=["sqlite", "standard-module"])
def test_a_disk_without_a_byte_left(nursery: Callable[..., object], tmp_path: Path, library: str) -> None:
    with small_disk(tmp_path / "disk") as disk:
        house = House(
            disk, sqlite_url(migrated_file(disk).rename(disk / "kiosk.sqlite")), nursery(library), 1
        )
        ballast = disk / "ballast"

        def fill(_pid):
            room = int(subprocess.check_output(["stat", "-f", "-c", "%a", disk])) * 4096
            ballast.write_bytes(b"x" * (room - ROOM_LEFT_B))

        fill_and_go_on(house, fill, lambda _pid: ballast.unlink(), "disk_full", "está lleno")
