"""A copy of the demo site that a test may break, and a quick way to break it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.site.faults import SiteFaults
from kiosk.site.loading import load_site
from kiosk.site.secret import make_secret
from kiosk.site.shipped import shipped
from tests.walking import walk

Break = Callable[..., list[str]]


@pytest.fixture(autouse=True)
def _no_database_from_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("KIOSK_DATABASE", raising=False)


WALK = """\
[[route]]
stop = "still-house"
minutes = 15
walk_minutes = 4
holds = 12

[[route]]
stop = "cask-store"
minutes = 12
walk_minutes = 3
holds = 12

[[route]]
stop = "tasting-room"
minutes = 40
walk_minutes = 2
holds = 22

"""


def _shorter(settings: str) -> str:
    """Leave three stops in the route, so that a test of one setting knows its place."""
    start, end = settings.index("[[route]]"), settings.index("# --- the rules of service")
    return settings[:start] + WALK + settings[end:]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The demo site's settings in a folder of their own, with a secret and a walk of three stops."""
    for name in ("site.toml", "products.toml", "mark.png"):
        shutil.copy(shipped("demo_site") / name, tmp_path / name)
    settings = tmp_path / "site.toml"
    settings.write_text(_shorter(settings.read_text(encoding="utf-8")), encoding="utf-8")
    make_secret(tmp_path)
    return tmp_path


@pytest.fixture
def broken(folder: Path) -> Break:
    """Replace one piece of a file and return the sentences of every fault."""

    def replace(file: str, old: str, new: str) -> list[str]:
        source = (folder / file).read_text(encoding="utf-8")
        assert old in source, f"{old!r} does not stand in {file}"
        (folder / file).write_text(source.replace(old, new, 1), encoding="utf-8")
        try:
            load_site(folder)
        except SiteFaults as raised:
            return [fault.sentence() for fault in raised.faults]
        return []

    return replace


__all__ = ["walk"]
