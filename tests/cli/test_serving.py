"""The server finishes what it has begun, takes a free port, and says where it is."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kiosk.cli.serving import free_port, network_address
from kiosk.site.loading import load_site
from kiosk.site.shipped import shipped
from kiosk.store.engine import open_store
from kiosk.store.tables.tasting import measure_checks
from tests.cli.command import kiosk, own_environment
from tests.commands import start

SLOW = """
import sys, time
from flask import Flask
from kiosk.cli.server import serve_app

app = Flask("slow")

@app.get("/slow")
def slow():
    print("began", flush=True)
    time.sleep(1.5)
    return "x" * 200_000

serve_app(app, "127.0.0.1", int(sys.argv[1]), lambda: print("open", flush=True))
print("stopped", flush=True)
"""


@pytest.fixture
def slow_server(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A real server process whose one page takes its time."""
    script = tmp_path / "slow.py"
    script.write_text(SLOW)
    port = free_port("127.0.0.1", 0)
    environment = {**os.environ, "PYTHONPATH": os.getcwd()}
    server = subprocess.Popen(
        [sys.executable, str(script), str(port)], stdout=subprocess.PIPE, text=True, env=environment
    )
    assert server.stdout is not None
    assert server.stdout.readline() == "open\n"
    yield server, port
    server.kill()
    server.wait()
    server.stdout.close()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_request_in_flight_is_answered_in_full_before_the_server_stops(
    slow_server: tuple[subprocess.Popen[str], int], number: signal.Signals
) -> None:
    server, port = slow_server
    answers: list[int] = []

    def ask() -> None:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/slow", timeout=20) as answer:
            answers.append(len(answer.read()))

    asking = threading.Thread(target=ask)
    asking.start()
    assert server.stdout is not None
    assert server.stdout.readline() == "began\n"
    server.send_signal(number)
    asking.join(20)
    assert answers == [200_000]
    assert server.wait(20) == 0
    assert server.stdout.readline() == "stopped\n"


def test_nobody_new_is_let_in_once_it_is_stopping(slow_server: tuple[subprocess.Popen[str], int]) -> None:
    server, port = slow_server
    asking = threading.Thread(
        target=lambda: urllib.request.urlopen(f"http://127.0.0.1:{port}/slow", timeout=20).close()
    )
    asking.start()
    assert server.stdout is not None
    assert server.stdout.readline() == "began\n"
    server.send_signal(signal.SIGTERM)
    deadline = time.monotonic() + 1.2
    refused = False
    while not refused and time.monotonic() < deadline:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except (ConnectionRefusedError, ConnectionResetError):
            refused = True
    asking.join(20)
    assert refused


def test_a_taken_port_gives_way_to_a_free_one() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        found = free_port("127.0.0.1", taken)
    assert found not in (0, taken)
    assert free_port("127.0.0.1", found) == found


def test_the_network_address_is_never_a_loopback() -> None:
    assert not (network_address() or "").startswith("127.")


def test_a_port_that_is_taken_is_a_plain_sentence(new_site: tuple[Path, str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        done = kiosk("serve", "--site", str(new_site[0]), "--port", str(other.getsockname()[1]))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "in use" in done.stderr


@pytest.mark.parametrize("words", ["this is no database", "a" * 4096])
def test_a_file_that_is_no_database_is_told_in_a_sentence(
    new_site: tuple[Path, str], tmp_path: Path, words: str
) -> None:
    folder = Path(shutil.copytree(new_site[0], tmp_path / "estate"))
    (folder / "kiosk.sqlite").write_text(words)
    told = kiosk("serve", "--site", str(folder))
    assert told.returncode == 1
    assert told.stderr.startswith("The site's database cannot be used:")
    assert "Traceback" not in told.stderr


def test_the_database_of_another_site_is_not_opened(estate: Path) -> None:
    records = shipped("demo_site") / "records"
    assert kiosk("import", str(records), "--site", str(estate), "--yes").returncode == 0
    settings = estate / "site.toml"
    settings.write_text(settings.read_text().replace('key = "new-estate"', 'key = "other-estate"'))
    done = kiosk("serve", "--site", str(estate), "--port", "0")
    assert done.returncode == 1
    assert "new-estate" in done.stderr


def test_a_clock_behind_the_records_serves_nobody_until_somebody_says_that_it_is_right(
    estate: Path,
) -> None:
    ahead = datetime.now(UTC) + timedelta(days=2)
    store = open_store(load_site(estate).database)
    with store.write() as session:
        entry = {"key": "a" * 32, "at": ahead, "recorded_at": ahead, "measure": "x", "weights_g": []}
        session.execute(measure_checks.insert().values(entry))
    store.close()
    port = free_port("127.0.0.1", 0)
    for command in (("serve", "--site", str(estate), "--port", str(port)), ("daily", "--site", str(estate))):
        refused = kiosk(*command)
        assert refused.returncode == 1
        assert f"something was recorded at {ahead:%Y-%m-%d %H:%M}" in refused.stderr
    said, its_own = os.pipe()
    words = ("serve", "--site", str(estate), "--port", str(port), "--clock-is-right")
    with open(os.devnull, "rb") as nothing:
        files = {"stdin": nothing.fileno(), "stdout": its_own, "stderr": its_own}
        server = start(*words, **files, environment=own_environment())
    os.close(its_own)
    with open(said) as lines:
        assert "Open:\n" in lines
        server.terminate()
        assert server.wait(60) == 0
    assert kiosk("daily", "--site", str(estate)).returncode == 0
