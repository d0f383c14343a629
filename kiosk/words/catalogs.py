"""Marks messages for the catalogs where they are written before a language is known.

Catalogs read straight from their `.po` files, so that they are never stale.

Messages are formatted by `str.format`: a `%` in "40 % vol" needs no care, a
brace in prose would. Values are escaped by whoever prints the result.

The order of words in a reader's language: Spanish has ñ between n and o, accents count last.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from unicodedata import combining, normalize

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import NullTranslations, Translations


def N_(message: str) -> str:
    """Return the message unchanged; extraction finds it by this name."""
    return message


def NN_(singular: str, plural: str) -> tuple[str, str]:
    """Return both forms of a counted message; extraction finds them by this name."""
    return singular, plural


SOURCE_LANGUAGE = "en"


@dataclass(frozen=True, slots=True)
class Words:
    """One language of one site: its messages and the locale of its numbers."""

    language: str
    locale: Locale
    translations: NullTranslations

    def gettext(self, message: str, /, **values: object) -> str:
        """Return a message in this language with its {values} filled in."""
        return self.translations.gettext(message).format(**values)

    def ngettext(self, singular: str, plural: str, n: int, /, **values: object) -> str:
        """Return the form of a message for a count; `{n}` is filled in unless given."""
        return self.translations.ngettext(singular, plural, n).format(**{"n": n, **values})


def load_words(folder: Path, language: str, locale: str) -> Words:
    """Read the catalog of a language; the source language needs no file."""
    path = folder / language / "LC_MESSAGES" / "kiosk.po"
    if language == SOURCE_LANGUAGE and not path.exists():
        return Words(language, Locale.parse(locale), NullTranslations())
    with path.open("rb") as file:
        catalog = read_po(file, locale=language)
    compiled = BytesIO()
    write_mo(compiled, catalog)
    compiled.seek(0)
    return Words(language, Locale.parse(locale), Translations(compiled))


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
