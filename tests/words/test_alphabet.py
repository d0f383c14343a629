"""The order of words, as dictionaries of each language have it."""

from __future__ import annotations

import pytest

from kiosk.words.alphabet import initial, sort_key


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
