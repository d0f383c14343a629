"""Catalogs read straight from their `.po` files, so that they are never stale.

Messages are formatted by `str.format`: a `%` in "40 % vol" needs no care, a
brace in prose would. Values are escaped by whoever prints the result.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import NullTranslations, Translations

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
