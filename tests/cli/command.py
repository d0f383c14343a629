"""Runs the `kiosk` command in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys


def kiosk(*words: str, said: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a person would."""
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("KIOSK_", "LC_"))}
    return subprocess.run(
        [sys.executable, "-m", "kiosk", *words],
        capture_output=True,
        input=said,
        text=True,
        timeout=240,
        check=False,
        env={**inherited, "LANG": "C.UTF-8", **environment},
    )
