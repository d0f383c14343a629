"""The messages of a language, the marks by which they are extracted, and alphabetical order.

Catalogs are read from their `.po` files at start, so no compiled file can be out of date.
Messages are formatted by `str.format`: a `%` needs no care, a brace would. Values are
escaped by the code that prints the result.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from unicodedata import combining, normalize

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import NullTranslations, Translations


def N_(message: str) -> str:
    """Return a message unchanged, marked for extraction into the catalogs."""
    return message


def NN_(singular: str, plural: str) -> tuple[str, str]:
    """Return both forms of a counted message unchanged, marked for extraction into the catalogs."""
    return singular, plural


SOURCE_LANGUAGE = "en"


@dataclass(frozen=True, slots=True)
class Words:
    """One language of a site: its translated messages and the locale that formats its numbers."""

    language: str
    locale: Locale
    translations: NullTranslations
    names: Callable[[], Mapping[tuple[str, str], Mapping[str, str]]] = dict
    """Returns the names that staff gave, by language, by kind and code of what they name."""

    def name_of(self, kind: str, code: str) -> str:
        """Return the name that staff gave to a thing, or its code in readable form where it has none."""
        return self.names().get((kind, code), {}).get(self.language) or readable_code(code)

    def gettext(self, message: str, /, **values: object) -> str:
        """Return a message in this language with its {values} filled in."""
        return self.translations.gettext(message).format(**values)

    def unfilled(self, message: str) -> str:
        """Return a message in this language with its {values} left in it, for a script that fills them in."""
        return self.translations.gettext(message)

    def ngettext(self, singular: str, plural: str, n: int, /, **values: object) -> str:
        """Return the form of a message for a count; `{n}` is filled in unless given."""
        return self.translations.ngettext(singular, plural, n).format(**{"n": n, **values})

    def forms(self, singular: str, plural: str) -> dict[str, str]:
        """Return the forms of a counted message by CLDR's plural category, `{n}` left in them.

        They are for a script that counts without asking the server.
        """
        counts = _count_of_each_category(self.locale)
        return {name: self.translations.ngettext(singular, plural, n) for name, n in counts.items()}


PLURALS_TRIED = 201
"""Every category that a count can have comes up below this in the languages of CLDR, save for millions."""


@lru_cache
def _count_of_each_category(locale: Locale) -> dict[str, int]:
    """Return the least count of each plural category of a locale."""
    return {locale.plural_form(n): n for n in reversed(range(PLURALS_TRIED))}


def readable_code(code: str) -> str:
    """Return a code as a page shows it where it has no name: "lower-hall" as "Lower hall"."""
    words = code.replace("-", " ").replace("_", " ").strip()
    return words[:1].upper() + words[1:]


def load_words(folder: Path, language: str, locale: str) -> Words:
    """Return the messages of `language` from its catalog in `folder`; English needs no file."""
    path = folder / language / "LC_MESSAGES" / "kiosk.po"
    if language == SOURCE_LANGUAGE and not path.exists():
        return Words(language, Locale.parse(locale), NullTranslations())
    return Words(language, Locale.parse(locale), _translations(path, language, path.stat().st_mtime_ns))


@lru_cache
def _translations(path: Path, language: str, _changed_ns: int) -> Translations:
    """Return the messages of a catalog, read again when its file has changed."""
    with path.open("rb") as file:
        catalog = read_po(file, locale=language)
    compiled = BytesIO()
    write_mo(compiled, catalog)
    compiled.seek(0)
    return Translations(compiled)


_OWN_LETTERS = {"es": "ñ"}
"""Accented letters that a language sorts as letters of their own, right after the plain one."""


def sort_key(text: str, language: str) -> tuple[str, str]:
    """Return a key by which words sort as in a dictionary of the language: ñ after n, accents last."""
    folded = normalize("NFC", text).casefold()
    own = _OWN_LETTERS.get(language, "")
    return "".join(_plain(letter) + ("\U0010ffff" if letter in own else "") for letter in folded), folded


def initial(text: str, language: str) -> str:
    """Return the capital letter under which a dictionary of the language lists a word."""
    first = normalize("NFC", text)[:1].casefold()
    return (first if first in _OWN_LETTERS.get(language, "") else _plain(first)).upper()


def _plain(letter: str) -> str:
    return "".join(part for part in normalize("NFD", letter) if not combining(part))
