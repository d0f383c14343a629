"""Readers that the tests of words share: each language with a locale that writes numbers its own way."""

from __future__ import annotations

from kiosk.site.shipped import shipped
from kiosk.words.catalogs import Words, load_words


def reader(locale: str) -> Words:
    """Return the words of a locale's language from the shipped catalog."""
    return load_words(shipped("locales"), locale.split("_")[0], locale)


ENGLISH = reader("en_US")
SPANISH = reader("es_PR")
SPANISH_COMMA = reader("es_ES")
