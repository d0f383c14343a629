"""Messages stay as marked, catalogs are read from their files, and words sort as in a dictionary."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.words.catalogs import N_, NN_, initial, load_words, sort_key
from tests.words.readers import ENGLISH, SPANISH


def test_marked_messages_stay_what_they_are() -> None:
    assert N_("Sold out") == "Sold out"
    assert NN_("{n} cask", "{n} casks") == ("{n} cask", "{n} casks")


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


@pytest.mark.parametrize(
    ("language", "ordered"),
    [
        ("es", ["nube", "nuez", "ñame", "ñapa", "oda"]),
        ("es", ["cana", "canto", "caña", "cañaveral", "cao"]),
        ("es", ["alambique", "Ángel", "añejo", "aro"]),
        ("es", ["papá", "papaya", "papel"]),
        ("en", ["caña", "canto", "cao"]),
        ("en", ["angels' share", "bagasse", "Brix", "bung"]),
    ],
)
def test_words_stand_as_in_a_dictionary(language: str, ordered: list[str]) -> None:
    assert sorted(set(ordered), key=lambda word: sort_key(word, language)) == ordered


def test_an_accent_decides_only_between_words_that_are_else_the_same() -> None:
    assert sorted(["té", "tercio", "te"], key=lambda word: sort_key(word, "es")) == ["te", "té", "tercio"]


def test_a_letter_typed_in_two_parts_is_the_same_letter() -> None:
    assert sort_key("cana\u0303", "es") != sort_key("caña", "es")
    assert sort_key("can\u0303a", "es") == sort_key("caña", "es")


@pytest.mark.parametrize(
    ("word", "language", "letter"),
    [("ñame", "es", "Ñ"), ("ñame", "en", "N"), ("ángel", "es", "A"), ("Brix", "es", "B"), ("", "es", "")],
)
def test_a_word_is_listed_under_its_capital(word: str, language: str, letter: str) -> None:
    assert initial(word, language) == letter
