"""Catalogs are read straight from their files."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.words.catalogs import load_words
from tests.words.readers import ENGLISH, SPANISH

PO = """
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

msgid "{share} of 40 % vol"
msgstr "{share} de 40 % vol"

msgid "{n} cask"
msgid_plural "{n} casks"
msgstr[0] "un barril"
msgstr[1] "{n} barriles"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "es" / "LC_MESSAGES" / "kiosk.po"
    path.parent.mkdir(parents=True)
    path.write_text(PO, encoding="utf-8")
    return tmp_path


def test_a_catalog_is_read_from_its_po_file_alone(folder: Path) -> None:
    words = load_words(folder, "es", "es_PR")
    assert words.gettext("{share} of 40 % vol", share="1/2") == "1/2 de 40 % vol"
    assert [words.ngettext("{n} cask", "{n} casks", n) for n in (0, 1, 2)] == [
        "0 barriles",
        "un barril",
        "2 barriles",
    ]


def test_a_message_without_translation_stays_in_the_source_language(folder: Path) -> None:
    assert load_words(folder, "es", "es_PR").gettext("Not yet") == "Not yet"


def test_the_source_language_needs_no_file(folder: Path) -> None:
    assert load_words(folder, "en", "en_US").ngettext("{n} cask", "{n} casks", 1) == "1 cask"


def test_another_language_without_a_file_is_an_error(folder: Path) -> None:
    with pytest.raises(FileNotFoundError):
        load_words(folder, "fr", "fr_FR")


def test_what_is_filled_in_cannot_open_another_placeholder() -> None:
    assert ENGLISH.gettext("{day}, {time}", day="{time}", time="{day}") == "{time}, {day}"
    assert SPANISH.gettext("about {number}", number="{0}") == "cerca de {0}"
