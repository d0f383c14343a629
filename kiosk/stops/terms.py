"""The glossary as a reader finds it: by the letters of their language, with the word in the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby

from kiosk.site.content import Term
from kiosk.words.alphabet import initial, sort_key


@dataclass(frozen=True, slots=True)
class Entry:
    """A word with its meaning, and what it is called in the site's other languages."""

    id: str
    name: str
    meaning: str
    others: tuple[tuple[str, str], ...]  # (language, word)


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter with the words that begin with it."""

    letter: str
    entries: tuple[Entry, ...]


def by_letter(glossary: Mapping[str, Term], language: str, languages: Iterable[str]) -> list[Letter]:
    """Return the glossary in a language, in that language's order."""
    others = [code for code in languages if code != language]
    entries = [
        Entry(name, term.names[language], term.meanings[language], tuple((o, term.names[o]) for o in others))
        for name, term in glossary.items()
    ]
    entries.sort(key=lambda entry: sort_key(entry.name, language))
    return [
        Letter(letter, tuple(group))
        for letter, group in groupby(entries, lambda entry: initial(entry.name, language))
    ]
