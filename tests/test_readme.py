"""README is true: its links lead to files, and its commands exist."""

from __future__ import annotations

import re
from pathlib import Path

from kiosk.cli import cli
from tests.pictures import DAY, FRONT, MOST_BYTES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_link_leads_to_a_file() -> None:
    links = re.findall(r"\]\(([^)#]+)", README)
    assert links
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_its_pictures_are_small_and_stand_on_the_first_screen() -> None:
    pictures = re.findall(r"!\[[^]]{20,}\]\(([^)]+)\)", README)
    assert [ROOT / picture for picture in pictures] == [FRONT, DAY]
    for path in (FRONT, DAY):
        assert path.read_bytes()[8:12] == b"WEBP"
        assert 10_000 < path.stat().st_size <= MOST_BYTES
    first_screen = README.splitlines()[:25]
    assert any(".venv/bin/kiosk demo" in line for line in first_screen)
    assert any("front.webp" in line for line in first_screen)


def test_every_page_of_the_manual_is_linked() -> None:
    pages = {path.relative_to(ROOT).as_posix() for path in (ROOT / "content" / "manual").glob("*.en.md")}
    assert pages <= set(re.findall(r"\]\(([^)#]+)", README))


def test_every_command_exists() -> None:
    assert set(re.findall(r"bin/kiosk (\w+)", README)) <= set(cli.commands)
