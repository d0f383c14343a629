"""The application factory: wires one running site together."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import NamedTuple

from flask import Blueprint, Flask

from kiosk.cards import views as cards
from kiosk.entries import views as entries
from kiosk.entries.entries import EntryKind, EntryKinds
from kiosk.entries.guest_marks import GUEST_MARKS
from kiosk.entries.review import HeldSource
from kiosk.figures.figure import Provider, Registry
from kiosk.production import live as production_live
from kiosk.production import views as production
from kiosk.production.lineage import views as lineage
from kiosk.production.live.casks import casks_filled_on
from kiosk.production.pictures.making import stop_pictures
from kiosk.production.records.submission import record_cask_sample
from kiosk.site.content.loading import load_content
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.staff import views as staff
from kiosk.stops import views as stops
from kiosk.store.engine import Store
from kiosk.tasting import live as tasting_live
from kiosk.tasting import views as tasting
from kiosk.tasting.bottles.shelf import open_bottles
from kiosk.tasting.room.entry_kinds import ROOM_ENTRIES
from kiosk.tours import day as tours_live
from kiosk.tours import views as tours
from kiosk.tours.calendar.blueprint import feed_bp
from kiosk.tours.personal_data import views as personal_data
from kiosk.tours.walk.closures import closed_for_guests
from kiosk.tours.walk.steps import STEPS
from kiosk.web import access, compression, errors, language, operation, page, security
from kiosk.web import views as web
from kiosk.web.context import SiteContext, display_names
from kiosk.words.catalogs import Words, load_words

SHARED = (errors, language, security, access, page, operation, compression)


class Feature(NamedTuple):
    """The pages of a feature, its figures' providers, its kinds of entries, and what it holds for review."""

    pages: Blueprint
    providers: tuple[Provider, ...] = ()
    entry_kinds: tuple[EntryKind, ...] = ()
    held: tuple[HeldSource, ...] = ()


FEATURES: Mapping[str, Feature] = {
    "web": Feature(web.bp),
    "staff": Feature(staff.bp),
    "production": Feature(production.bp, production_live.PROVIDERS, held=(production.HELD_RECORDS,)),
    "lineage": Feature(lineage.bp),
    "stops": Feature(stops.bp),
    "entries": Feature(entries.bp, (), (GUEST_MARKS,), (entries.HELD_ENTRIES,)),
    "tasting": Feature(tasting.bp, tasting_live.PROVIDERS, ROOM_ENTRIES, (tasting.HELD_WEIGHINGS,)),
    "tours": Feature(tours.bp, tours_live.PROVIDERS, (STEPS,)),
    "calendar": Feature(feed_bp),
    "personal_data": Feature(personal_data.bp),
    "cards": Feature(cards.bp),
}


def system_clock() -> datetime:
    """Return the computer's time; nothing below the application reads a clock."""
    return datetime.now(UTC)


def site_clock(site: Site) -> Callable[[], datetime]:
    """Return the clock of a site: the computer's, or the one that a demo was prepared with."""
    demo = site.demo_clock
    return system_clock if demo is None else lambda: demo.reading(system_clock())


def new_registry() -> Registry:
    """Return a registry of the figures of every feature."""
    return Registry(provider for feature in FEATURES.values() for provider in feature.providers)


def entry_kinds() -> EntryKinds:
    """Return every kind of entry that tablets may send."""
    return tuple(kind for feature in FEATURES.values() for kind in feature.entry_kinds)


def figure_names() -> frozenset[str]:
    """Return the names that content may ask for."""
    return frozenset(new_registry().specs)


def create_app(
    site: Site,
    store: Store,
    clock: Callable[[], datetime] | None = None,
    features: Iterable[str] = FEATURES,
) -> Flask:
    """Build the application of one site, without migrating its database or listening.

    Without a `clock` it is the site's own. `features` names the features whose pages
    it has; figures are always those of all.
    Raises `SiteFaults` for content that cannot be used, `access.NotDeclared`
    for a view that does not declare who may open it.
    """
    app = Flask("kiosk", static_folder="web/static", template_folder="web/templates")
    registry = new_registry()
    app.extensions["kiosk"] = SiteContext(
        site=site,
        store=store,
        registry=registry,
        content=load_content(site, registry.specs),
        words=_words(site),
        clock=clock or site_clock(site),
        entry_kinds=entry_kinds(),
        held_sources=[source for name in features for source in FEATURES[name].held],
        stop_pictures=stop_pictures,
        casks_filled_on=casks_filled_on,
        groups_on_walk=tours_live.groups_on_walk,
        closed_stops=closed_for_guests,
        record_cask_sample=record_cask_sample,
        open_bottles=open_bottles,
    )
    for part in SHARED:
        part.init_app(app)
    for name in features:
        app.register_blueprint(FEATURES[name].pages)
    access.require_declarations(app)
    return app


def _words(site: Site) -> dict[str, Words]:
    spoken = (load_words(shipped("locales"), known.code, known.locale) for known in site.languages)
    return {one.language: replace(one, names=display_names) for one in spoken}
