"""The server finishes what it has begun, takes a free port, and says where it is."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.serving import free_port, network_address

SLOW = """
import sys, time
from flask import Flask
from kiosk.serving import serve

app = Flask("slow")

@app.get("/slow")
def slow():
    print("began", flush=True)
    time.sleep(1.5)
    return "x" * 200_000

serve(app, "127.0.0.1", int(sys.argv[1]), lambda: print("open", flush=True))
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
