"""The shipped catalogs hold every message of the code, extracted afresh."""

from __future__ import annotations

from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from kiosk.paper.fonts import glyphs
from tests.words.update import ROOT, extracted, faults, placeholders, read, write

CATALOGS = sorted((ROOT / "locales").glob("*/LC_MESSAGES/kiosk.po"))


@pytest.fixture(scope="module")
def template() -> Catalog:
    return extracted(ROOT)


def test_the_template_is_what_the_code_says_today(template: Catalog, tmp_path: Path) -> None:
    write(template, tmp_path / "kiosk.pot")
    fresh, kept = (read_template(folder / "kiosk.pot") for folder in (tmp_path, ROOT / "locales"))
    assert kept - fresh == set(), "no longer used: run python -m tests.words.update"
    assert fresh - kept == set(), "new messages: run python -m tests.words.update"


def read_template(path: Path) -> set[object]:
    with path.open("rb") as file:
        return {message.id for message in read_po(file) if message.id}


@pytest.mark.parametrize("path", CATALOGS, ids=lambda path: path.parent.parent.name)
def test_every_message_is_translated_with_its_own_placeholders(path: Path, template: Catalog) -> None:
    assert list(faults(template, read(path))) == []


def test_there_is_a_spanish_catalog() -> None:
    assert [path.parent.parent.name for path in CATALOGS] == ["es"]


def test_every_message_can_be_filled_in(template: Catalog) -> None:
    for message in template:
        for text in [message.id] if isinstance(message.id, str) else message.id:
            placeholders(text)


@pytest.mark.parametrize("path", [*CATALOGS, ROOT / "locales" / "kiosk.pot"], ids=lambda path: path.name)
def test_every_letter_of_the_catalogs_can_be_printed(path: Path) -> None:
    letters = set(path.read_text(encoding="utf-8")) - {"\n"}
    assert letters - glyphs() == set()
