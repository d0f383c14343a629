"""The server holds out: half-sent requests, many readers, large bodies, and TLS of its own."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from kiosk.cli.serving import free_port
from tests.tls_front import CERTIFICATE, KEY, trusting

pytestmark = pytest.mark.faults

APP = """
import sys, time
from pathlib import Path
from flask import Flask, request
from kiosk.cli import server
from kiosk.cli.server import serve_app, tls_context

app = Flask("house")
app.config["MAX_CONTENT_LENGTH"] = 2_000_000

@app.get("/slow")
def slow():
    time.sleep(3)
    return "slow"

@app.route("/staff/pour", methods=["GET", "POST"])
def pour():
    return str(len(request.get_data()))

@app.get("/large")
def large():
    return "x" * 3_000_000

if sys.argv[2:3] == ["few"]:
    server.IDLE_S, server.CLEANUP_S, server.MOST_CONNECTIONS = 2, 1, 8
tls = tls_context(Path(sys.argv[2]), Path(sys.argv[3])) if len(sys.argv) > 3 else None
serve_app(app, "127.0.0.1", int(sys.argv[1]), lambda: print("open", flush=True), tls)
"""


def started(folder: Path, *more: str) -> tuple[subprocess.Popen[str], int]:
    script, port = folder / "house.py", free_port("127.0.0.1", 0)
    script.write_text(APP)
    server = subprocess.Popen(
        [sys.executable, str(script), str(port), *more],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.getcwd()},
    )
    assert server.stdout is not None
    assert server.stdout.readline() == "open\n"
    return server, port


@pytest.fixture(scope="module", params=["http", "https"])
def server(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[int, bool]]:
    """The port of a real server, and whether it speaks TLS."""
    pair = [str(CERTIFICATE), str(KEY)] if request.param == "https" else []
    process, port = started(tmp_path_factory.mktemp(request.param), *pair)
    yield port, bool(pair)
    process.terminate()
    assert process.wait(timeout=30) == 0
    assert process.stdout is not None
    process.stdout.close()


@pytest.fixture
def few(tmp_path: Path) -> Iterator[int]:
    """The port of a server that has eight connections and closes an idle one after two seconds."""
    process, port = started(tmp_path, "few")
    yield port
    process.terminate()
    assert process.wait(timeout=30) == 0
    assert process.stdout is not None
    process.stdout.close()


def connection(server: tuple[int, bool]) -> http.client.HTTPConnection:
    port, tls = server
    if tls:
        return http.client.HTTPSConnection("127.0.0.1", port, timeout=20, context=trusting())
    return http.client.HTTPConnection("127.0.0.1", port, timeout=20)


def asked(server: tuple[int, bool], path: str, body: bytes | None = None) -> tuple[int, bytes]:
    """Return status and body of an answer on a connection of its own."""
    here = connection(server)
    here.request("POST" if body is not None else "GET", path, body)
    answer = here.getresponse()
    content = answer.read()
    here.close()
    return answer.status, content


def test_half_sent_requests_hold_no_thread(server: tuple[int, bool]) -> None:
    halves = [socket.create_connection(("127.0.0.1", server[0])) for _ in range(102)]  # 17 phones by six
    for half in halves:
        half.sendall(b"GET /slow HTTP/1.1\r\nHost: x\r\nX-A: ")
    began = time.monotonic()
    assert asked(server, "/staff/pour", b"1234") == (200, b"4")
    assert time.monotonic() - began < 3
    for half in halves:
        half.close()


def test_however_many_guests_wait_a_pour_is_answered(server: tuple[int, bool]) -> None:
    with ThreadPoolExecutor(12) as guests:
        reading = [guests.submit(asked, server, "/slow") for _ in range(4)]
        time.sleep(0.5)
        began = time.monotonic()
        assert asked(server, "/staff/pour", b"1") == (200, b"1")
        assert time.monotonic() - began < 2.5
        assert {future.result() for future in reading} == {(200, b"slow")}


def test_a_large_answer_and_a_connection_used_again_come_whole(server: tuple[int, bool]) -> None:
    here = connection(server)
    for _ in range(3):
        here.request("GET", "/large")
        assert len(here.getresponse().read()) == 3_000_000
        here.request("POST", "/staff/pour", b"x" * 1_900_000)
        assert here.getresponse().read() == b"1900000"
    here.close()


def test_a_body_that_is_too_large_is_answered_and_kept_nowhere(server: tuple[int, bool]) -> None:
    status, _ = asked(server, "/staff/pour", b"x" * 3_000_000)
    assert status == 413
    assert asked(server, "/staff/pour", b"12") == (200, b"2")


def test_what_speaks_no_tls_closes_its_own_connection_only(server: tuple[int, bool]) -> None:
    with socket.create_connection(("127.0.0.1", server[0]), timeout=10) as stranger:
        stranger.sendall(b"\x16\x03nonsense\r\n\r\n")
        with suppress(OSError):  # The server may close it before the stranger does.
            stranger.shutdown(socket.SHUT_WR)
            stranger.recv(1000)
    threads = [threading.Thread(target=asked, args=(server, "/staff/pour")) for _ in range(5)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(20)
    assert asked(server, "/staff/pour")[0] == 200


def test_an_idle_connection_is_closed_and_one_at_work_is_not(few: int) -> None:
    began = time.monotonic()
    silent, half, busy = (socket.create_connection(("127.0.0.1", few), timeout=20) for _ in range(3))
    half.sendall(b"GET /slow HTTP/1.1\r\nHost: x\r\nX-A: ")
    busy.sendall(b"GET /slow HTTP/1.1\r\nHost: x\r\n\r\n")  # It answers after three seconds.
    assert (silent.recv(100), half.recv(100)) == (b"", b"")
    assert 1 < time.monotonic() - began < 10
    assert busy.recv(100).startswith(b"HTTP/1.1 200")
    for one in (silent, half, busy):
        one.close()


def test_beyond_the_limit_a_request_waits_until_an_idle_connection_is_closed(few: int) -> None:
    began = time.monotonic()
    idle = [socket.create_connection(("127.0.0.1", few), timeout=20) for _ in range(12)]
    assert asked((few, False), "/staff/pour", b"12") == (200, b"2")
    assert 1 < time.monotonic() - began < 15
    for one in idle:
        one.close()
