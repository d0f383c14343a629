"""Runs the `kiosk` command as a person would, in a process of its own."""

from __future__ import annotations

import os
import subprocess

from tests.commands import run


def own_environment(**more: str) -> dict[str, str]:
    """Return the environment of a command: this process's, without what is set for the kiosk in it."""
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("KIOSK_", "LC_"))}
    return {**inherited, "LANG": "C.UTF-8", **more}


def kiosk(*words: str, said: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command to its end and return what it said."""
    return run(*words, said=said, environment=own_environment(**environment))
