"""What every page of one running site shares: the site, its store, its figures.

`create_app` builds one `SiteContext` and keeps it on the app; nothing at module level.

Who reads a page with figures: the reader of the request under way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from flask import current_app, g

from kiosk.figures.figure import FigureReader, Registry
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.words.catalogs import Words


@dataclass(frozen=True, slots=True)
class SiteContext:
    """One running site."""

    site: Site
    store: Store
    registry: Registry
    content: Content
    words: Mapping[str, Words]  # by language code
    clock: Callable[[], datetime]


def site_context() -> SiteContext:
    """Return the house of the current app."""
    return cast(SiteContext, current_app.extensions["kiosk"])


def now() -> datetime:
    """Return this request's one instant, on the site's own clock."""
    if "now" not in g:
        g.now = site_context().site.local(site_context().clock())
    return cast(datetime, g.now)


def figure_reader() -> FigureReader:
    """Return this request's book of figures, opened when first asked for."""
    if "book" not in g:
        here = site_context()
        g.book = here.registry.book(here.store.read, versions, here.site, now())
    return cast(FigureReader, g.book)


def words() -> Words:
    """Return the words of the language chosen for this request (`web.language`)."""
    return cast(Words, g.words)


def page_reader(in_words: Words | None = None) -> PageReader:
    """Return who reads: by default whoever asks, else in the words given."""
    here = site_context()
    return PageReader(
        in_words or words(),
        here.site.units.value,
        figure_reader(),
        here.content.facts,
        here.site.local(now()),
    )
