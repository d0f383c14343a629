"""Every command explains itself; a word that is none of them is refused."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.command import kiosk, own_environment


@pytest.mark.parametrize(
    "command", ["demo", "init", "serve", "check", "import", "daily", "backup", "restore", "move"]
)
def test_every_command_explains_itself(command: str) -> None:
    assert command in kiosk("--help").stdout
    told = kiosk(command, "--help")
    assert told.returncode == 0
    assert len(told.stdout.splitlines()) > 4


def test_python_runs_the_command_as_a_module() -> None:
    command = [sys.executable, "-m", "kiosk", "--version"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=own_environment())
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("kiosk, version ")


def test_an_unknown_word_is_told_with_a_usage(tmp_path: Path) -> None:
    done = kiosk("pour")
    assert done.returncode == 2
    assert "Usage" in done.stderr
