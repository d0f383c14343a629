"""README is true: its links lead to files, and its commands exist."""

from __future__ import annotations

import re
from pathlib import Path

from kiosk.cli import cli

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_link_leads_to_a_file() -> None:
    links = re.findall(r"\]\(([^)#]+)", README)
    assert links
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_every_page_of_the_manual_is_linked() -> None:
    pages = {path.relative_to(ROOT).as_posix() for path in (ROOT / "content" / "manual").glob("*.en.md")}
    assert pages <= set(re.findall(r"\]\(([^)#]+)", README))


def test_every_command_exists() -> None:
    assert set(re.findall(r"bin/kiosk (\w+)", README)) <= set(cli.commands)
