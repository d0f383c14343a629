"""The order of words in a reader's language: Spanish has ñ between n and o, accents count last."""

from __future__ import annotations

from unicodedata import combining, normalize

_OWN_LETTERS = {"es": "ñ"}
"""Letters with a mark that are letters of their own; each stands right after the one without it."""
_AFTER = "\U0010ffff"


def sort_key(text: str, language: str) -> tuple[str, str]:
    """Return a key that sorts words as a dictionary of the language does."""
    folded = normalize("NFC", text).casefold()
    return "".join(_letter(letter, language) for letter in folded), folded


def initial(text: str, language: str) -> str:
    """Return the capital under which a dictionary of the language lists a word."""
    first = normalize("NFC", text)[:1].casefold()
    return (first if first in _OWN_LETTERS.get(language, "") else _plain(first)).upper()


def _letter(letter: str, language: str) -> str:
    return _plain(letter) + (_AFTER if letter in _OWN_LETTERS.get(language, "") else "")


def _plain(letter: str) -> str:
    return "".join(part for part in normalize("NFD", letter) if not combining(part))
