"""The glossary as a reader finds it: by the letters of their language, with the word in the others.

Words of the trade lead to their meaning where they first stand on a page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape
from itertools import groupby

from markupsafe import Markup

from kiosk.site.content.loading import Term
from kiosk.words.catalogs import initial, sort_key


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


# Where a link would stand in another link, a heading or a figure, the word is left alone.
_CLOSED_TO_LINKS = frozenset({"a", "code", "h1", "h2", "h3", "h4", "h5", "h6", "span", "strong", "summary"})
_TAG = re.compile(r"(<[^>]+>)")
_TAG_NAME = re.compile(r"</?([a-z0-9]+)")
_IN_BRACKETS = re.compile(r"\s*\([^)]*\)")


class Linker:
    """Links the words of a glossary in the pages of one language."""

    def __init__(self, glossary: Mapping[str, Term], language: str, address: Callable[[str], str]) -> None:
        """`address` returns where the meaning of a word of that id is told."""
        found = {
            _IN_BRACKETS.sub("", term.names[language]).casefold(): name
            for name, term in glossary.items()
            if term.linked
        }
        longest_first = sorted(found, key=len, reverse=True)
        self._ids = found
        self._address = address
        self._word = re.compile(
            rf"(?<![\w-])({'|'.join(_pattern(word) for word in longest_first)})(?:s|es)?(?![\w-])",
            re.IGNORECASE,
        )

    def linked(self, html: Markup) -> Markup:
        """Return a page's HTML in which each word of the trade is a link where it first stands."""
        if not self._ids:
            return html
        left = dict(self._ids)
        parts, closed = [], 0
        for part in _TAG.split(str(html)):
            if part.startswith("<"):
                closed += _closes_to_links(part)
                parts.append(part)
            else:
                parts.append(part if closed else self._word.sub(lambda at: self._link(at, left), part))
        return Markup("".join(parts))  # the page's own HTML, and links of escaped parts

    def _link(self, at: re.Match[str], left: dict[str, str]) -> str:
        name = left.pop(at[1].casefold().replace("’", "'"), None)
        if name is None:
            return at[0]
        return f'<a class="term" href="{escape(self._address(name))}">{at[0]}</a>'


def _pattern(word: str) -> str:
    """Match a word of the glossary as pages write it, with either apostrophe."""
    return re.escape(escape(word, quote=False)).replace("'", "['’]")


def _closes_to_links(tag: str) -> int:
    """Return 1 where a tag opens what holds no link, -1 where it ends it."""
    name = _TAG_NAME.match(tag)
    if name is None or name[1] not in _CLOSED_TO_LINKS:
        return 0
    return -1 if tag.startswith("</") else 1
