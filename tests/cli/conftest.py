"""A new site, as `kiosk init` leaves it."""

from __future__ import annotations

import shutil
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


@pytest.fixture
def estate(new_site: tuple[Path, str], tmp_path: Path) -> Path:
    """A new site of one's own; its only record is the code of its first device."""
    return Path(shutil.copytree(new_site[0], tmp_path / "estate"))
