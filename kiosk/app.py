"""The application factory: one running site, wired together in the order one reads it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from importlib import import_module
from types import ModuleType

from flask import Flask

from kiosk.figures.figure import Registry
from kiosk.site.content import load_content
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from kiosk.web import access, errors, forms, language, page, security
from kiosk.web.house import House
from kiosk.words.catalogs import Words, load_words

FEATURES = ("web", "staff", "production", "stops", "tasting", "tours", "cards")


def system_clock() -> datetime:
    """Return the computer's time; nothing below the application reads a clock."""
    return datetime.now(UTC)


def create_app(
    site: Site,
    store: Store,
    clock: Callable[[], datetime] = system_clock,
    features: Sequence[str] = FEATURES,
) -> Flask:
    """Build the application of one site. It does not migrate, listen or ask anything.

    Raises `access.NotDeclared` when a view does not say who may open it.
    """
    app = Flask("kiosk", static_folder="web/static", template_folder="web/templates")
    registry = Registry(provider for live in _parts(features, "live") for provider in live.PROVIDERS)
    app.extensions["kiosk"] = House(
        site=site,
        store=store,
        registry=registry,
        content=load_content(site, registry.specs),
        words=_words(site),
        clock=clock,
    )
    for part in (errors, language, security, access, forms, page):
        part.init_app(app)
    for views in _parts(features, "views"):
        app.register_blueprint(views.bp)
    access.demand_declarations(app)
    return app


def _words(site: Site) -> dict[str, Words]:
    return {known.code: load_words(shipped("locales"), known.code, known.locale) for known in site.languages}


def _parts(features: Sequence[str], name: str) -> Iterator[ModuleType]:
    for feature in features:
        wanted = f"kiosk.{feature}.{name}"
        try:
            yield import_module(wanted)
        except ModuleNotFoundError as missing:
            if not str(missing.name).startswith("kiosk."):
                raise
