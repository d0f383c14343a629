"""Who reads a page with figures: the reader of the request under way."""

from __future__ import annotations

from kiosk.stops.pages import Reader
from kiosk.web.house import book, house, now, words
from kiosk.words.catalogs import Words


def reader(in_words: Words | None = None) -> Reader:
    """Return who reads: by default whoever asks, else in the words given."""
    here = house()
    return Reader(
        in_words or words(), here.site.units.value, book(), here.content.facts, here.site.local(now())
    )
