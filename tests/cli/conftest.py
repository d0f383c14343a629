"""A new site, as `kiosk init` leaves it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.command import kiosk


@pytest.fixture(scope="module")
def new_site(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A site made by `kiosk init`, and what it said."""
    folder = tmp_path_factory.mktemp("init") / "estate"
    done = kiosk("init", str(folder))
    assert done.returncode == 0, done.stderr
    return folder, done.stdout
