"""What every page of one running site shares: the site, its store, its figures.

`create_app` builds one `House` and keeps it on the app; nothing at module level.

Who reads a page with figures: the reader of the request under way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from flask import current_app, g

from kiosk.figures.figure import Book, Registry
from kiosk.site.content import Content
from kiosk.site.rendering import Reader
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class House:
    """One running site."""

    site: Site
    store: Store
    registry: Registry
    content: Content
    words: Mapping[str, Words]  # by language code
    clock: Callable[[], datetime]


def house() -> House:
    """Return the house of the current app."""
    return cast(House, current_app.extensions["kiosk"])


def now() -> datetime:
    """Return this request's one instant, on the site's own clock."""
    if "now" not in g:
        g.now = house().site.local(house().clock())
    return cast(datetime, g.now)


def book() -> Book:
    """Return this request's book of figures, opened when first asked for."""
    if "book" not in g:
        here = house()
        g.book = here.registry.book(here.store.read, versions, here.site, now())
    return cast(Book, g.book)


def words() -> Words:
    """Return the words of the language chosen for this request (`web.language`)."""
    return cast(Words, g.words)


def reader(in_words: Words | None = None) -> Reader:
    """Return who reads: by default whoever asks, else in the words given."""
    here = house()
    return Reader(
        in_words or words(), here.site.units.value, book(), here.content.facts, here.site.local(now())
    )
