"""The glossary in alphabetical order, and the links from the first use of each term on a page to it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from html import escape
from itertools import groupby

from markupsafe import Markup

from kiosk.site.content.loading import Term
from kiosk.words.catalogs import initial, sort_key


def by_letter(glossary: Mapping[str, Term], language: str) -> list[tuple[str, list[tuple[str, Term]]]]:
    """Return the glossary by first letter in a language's own order, each term with its id."""
    terms = sorted(glossary.items(), key=lambda item: sort_key(item[1].names[language], language))
    letters = groupby(terms, lambda item: initial(item[1].names[language], language))
    return [(letter, list(entries)) for letter, entries in letters]


# Inside another link, a heading or a figure no term is linked.
_CLOSED_TO_LINKS = frozenset({"a", "code", "h1", "h2", "h3", "h4", "h5", "h6", "span", "strong", "summary"})
_TAG = re.compile(r"(<[^>]+>)")
_TAG_NAME = re.compile(r"</?([a-z0-9]+)")
_IN_BRACKETS = re.compile(r"\s*\([^)]*\)")


class Linker:
    """Links the terms of a glossary in the pages of one language."""

    def __init__(self, glossary: Mapping[str, Term], language: str, address: Callable[[str], str]) -> None:
        """`address` returns the address of the glossary's entry for a term's id."""
        ids = {
            _IN_BRACKETS.sub("", term.names[language]).casefold(): name
            for name, term in glossary.items()
            if term.linked
        }
        longest_first = sorted(ids, key=len, reverse=True)
        self._ids = ids
        self._address = address
        self._word = re.compile(
            rf"(?<![\w-])({'|'.join(_pattern(word) for word in longest_first)})(?:s|es)?(?![\w-])",
            re.IGNORECASE,
        )

    def linked(self, html: Markup) -> Markup:
        """Return a page's HTML with a link at the first use of each term."""
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
    """Return the pattern of a term as pages write it, with either apostrophe."""
    return re.escape(escape(word, quote=False)).replace("'", "['’]")


def _closes_to_links(tag: str) -> int:
    """Return 1 for a tag that opens an element without links, -1 for one that closes it, else 0."""
    name = _TAG_NAME.match(tag)
    if name is None or name[1] not in _CLOSED_TO_LINKS:
        return 0
    return -1 if tag.startswith("</") else 1
