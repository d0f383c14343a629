"""Runs the `kiosk` command in processes of its own that need not import anything first.

`python -m tests.commands` imports the command once and then forks a process for each command line that
it is sent. Such a process has its own environment, folder, files and end, as one started from nothing,
and is there in a twentieth of the time. `tests/cli/test_cli.py` starts the command from nothing.
"""

from __future__ import annotations

import atexit
import gc
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import IO, NoReturn

ROOT = Path(__file__).parents[1]
CLOCK_FILE = "TEST_CLOCK_FILE"
"""Names, in a command's environment, the file by which a test moves that command's clock."""
LONGEST_MESSAGE = 1 << 18
GIVEN_FILES = 4


class Command:
    """A command that runs: it can be waited for, and sent a signal."""

    def __init__(self, words: tuple[str, ...], files: tuple[int, int, int], environment: Mapping[str, str]):
        self._ours, theirs = socket.socketpair(type=socket.SOCK_SEQPACKET)
        message = json.dumps([words, dict(environment), os.getcwd()]).encode()
        with theirs:
            socket.send_fds(_forker(), [message], [theirs.fileno(), *files])
        self.pid = int(self._line())
        self.returncode: int | None = None

    def wait(self, timeout_s: float | None = None) -> int:
        """Return the exit code, that of a signal negative. Raises TimeoutError."""
        if self.returncode is None:
            self._ours.settimeout(timeout_s)
            self.returncode = int(self._line())
            self._ours.close()
        return self.returncode

    def poll(self) -> int | None:
        """Return the exit code, None while it runs."""
        try:
            return self.wait(0)
        except BlockingIOError:
            return None

    def send_signal(self, number: signal.Signals) -> None:
        """Send it a signal."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it in the middle of what it does."""
        self.send_signal(signal.SIGKILL)

    def _line(self) -> bytes:
        line = self._ours.recv(20)
        assert line, "the process that forks commands is gone"
        return line


def start(*words: str, stdin: int, stdout: int, stderr: int, environment: Mapping[str, str]) -> Command:
    """Start a command on open files."""
    return Command(words, (stdin, stdout, stderr), environment)


def run(
    *words: str, said: str = "", timeout_s: float = 240, environment: Mapping[str, str]
) -> subprocess.CompletedProcess[str]:
    """Run a command to its end and return its exit code and what it wrote. Raises TimeoutError."""
    with tempfile.TemporaryFile() as stdin, tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        stdin.write(said.encode())
        stdin.seek(0)
        files = {"stdin": stdin.fileno(), "stdout": out.fileno(), "stderr": err.fileno()}
        command = start(*words, **files, environment=environment)
        try:
            code = command.wait(timeout_s)
        except TimeoutError:
            command.kill()
            raise
        return subprocess.CompletedProcess(words, code, _text(out), _text(err))


def _text(file: IO[bytes]) -> str:
    file.seek(0)
    return file.read().decode()


@cache
def _forker() -> socket.socket:
    """Start the process that forks commands, once; it ends when this process does."""
    ours, theirs = socket.socketpair(type=socket.SOCK_SEQPACKET)
    own = {name: value for name, value in os.environ.items() if not name.startswith("KIOSK_")}
    with theirs:
        command = [sys.executable, "-m", "tests.commands", str(theirs.fileno())]
        process = subprocess.Popen(
            command, cwd=ROOT, env={**own, "PYTHONPATH": str(ROOT)}, pass_fds=[theirs.fileno()]
        )

    def end() -> None:
        ours.close()
        process.wait(30)

    atexit.register(end)
    return ours


def _fork_commands(control: socket.socket) -> tuple[str, ...] | None:
    """Fork a process for each message; return its words in that process, and None in this one at the end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal sends it to everyone in it
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for those that watch
    while True:
        message, files, _, _ = socket.recv_fds(control, LONGEST_MESSAGE, GIVEN_FILES)
        if not message:
            return None
        if os.fork() == 0:
            control.close()
            words, environment, folder = json.loads(message)
            if _watch(socket.socket(fileno=files[0])):
                os._exit(0)
            _become(files[1:], environment, folder)
            return tuple(words)
        for file in files:
            os.close(file)


def _watch(answers: socket.socket) -> bool:
    """Fork once more: return False in the process of the command, True in this one when that is over."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    pid = os.fork()
    with answers:
        if pid == 0:
            return False
        answers.sendall(str(pid).encode())
        status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        answers.sendall(str(status).encode())
    return True


def _become(files: list[int], environment: Mapping[str, str], folder: str) -> None:
    """Take the files, environment and folder of a command."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for number, file in enumerate(files):
        os.dup2(file, number)
        os.close(file)
    unbuffered = "PYTHONUNBUFFERED" in environment
    sys.stdin = os.fdopen(0, closefd=False)
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", closefd=False, errors="backslashreplace")
    sys.stderr.reconfigure(line_buffering=True)
    sys.stdout.reconfigure(line_buffering=unbuffered or sys.stdout.isatty(), write_through=unbuffered)
    os.environ.clear()
    os.environ.update(environment)
    sys.path[:0] = environment.get("PYTHONPATH", "").split(os.pathsep)
    os.chdir(folder)


def _end(code: int) -> NoReturn:
    """End this process as Python does, but do not tidy its memory up: that takes longest."""
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    for file in (sys.stdout, sys.stderr):
        with suppress(BrokenPipeError):
            file.flush()
    os._exit(code)


def _exit_code(function: Callable[[], None]) -> int:
    """Call a function and return the exit code that Python would end with."""
    try:
        function()
    except SystemExit as end:
        if end.code is None or isinstance(end.code, int):
            return end.code or 0
        print(end.code, file=sys.stderr)
        return 1
    except BaseException:
        traceback.print_exc()
        return 1
    return 0


def _follow_clock(file: Path) -> None:
    """Let the site's clock run ahead of the computer's by the seconds that a file holds at each look."""
    app.system_clock = lambda: datetime.now(UTC) + timedelta(seconds=float(file.read_text()))


if __name__ == "__main__":
    from argon2 import PasswordHasher

    from kiosk import app
    from kiosk.cli import main
    from kiosk.staff import people

    people.hash_pin.__defaults__ = (PasswordHasher(1, 8, 1),)  # PINs of tests need no strength

    gc.freeze()
    given = _fork_commands(socket.socket(fileno=int(sys.argv[1])))
    if given is not None:
        if ahead := os.environ.get(CLOCK_FILE):
            _follow_clock(Path(ahead))
        sys.argv, __package__ = ["kiosk", *given], None  # as the installed command has them
        _end(_exit_code(main))
