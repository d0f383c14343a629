"""A running site of three stops whose figures a test sets by hand, built from the real parts."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask

from kiosk.app import SHARED, new_registry
from kiosk.figures.figure import Basis, Figure, Provider, Registry, Spec, Unit
from kiosk.figures.tours.closures import Closure
from kiosk.production.lineage import views as lineage_views
from kiosk.production.live.casks import casks_filled_on
from kiosk.production.pictures.making import stop_pictures
from kiosk.production.records.submission import record_cask_sample
from kiosk.site.content.loading import Content
from kiosk.site.content.rendering import PageReader
from kiosk.site.settings import RouteStop, Site
from kiosk.site.shipped import shipped
from kiosk.staff import views as staff_views
from kiosk.stops import views as stops_views
from kiosk.store.engine import Store
from kiosk.store.rows import versions
from kiosk.web import access
from kiosk.web import views as web_views
from kiosk.web.context import SiteContext
from kiosk.words.catalogs import Words, load_words
from tests.actors import Clock, Screen
from tests.kept import kept_content
from tests.tasting_room import tasting_site

HOUR_S = 3600
ROUTE = (
    RouteStop("still-house", 15, 4, 12),
    RouteStop("cask-store", 12, 3, 9),
    RouteStop("tasting-room", 40, 2, 22),
)
_STALE_H = {
    **dict.fromkeys(
        ("casks_filled", "spirit_maturing", "spirit_maturing_volume", "angels_share_to_date"), 48
    ),
    **dict.fromkeys(("wash_day", "wash_abv_now", "cane_in_a_bottle"), 24),
    **dict.fromkeys(("run_abv_now", "run_proof_now", "hearts_volume_today", "hearts_abv_today"), 1),
    "cane_milled_today": 1,
}
SPECS = tuple(
    replace(spec, stale_after_s=_STALE_H[name] * HOUR_S if name in _STALE_H else spec.stale_after_s)
    for name, spec in new_registry().specs.items()
)
"""Every figure of the house; those of the pages under test grow stale by the tests' own hours."""


@dataclass
class Walk:
    """The site, its app and the figures that its providers are made to give."""

    site: Site
    store: Store
    clock: Clock
    content: Content
    words: Mapping[str, Words]
    figures: dict[tuple[str, str], Figure] = field(default_factory=dict)
    closed: dict[str, Closure] = field(default_factory=dict)
    app: Flask = field(init=False)
    registry: Registry = field(init=False)

    def __post_init__(self) -> None:
        provider = Provider(SPECS, frozenset(), 1, lambda session, site, now, of: self.figures)
        self.registry = Registry([provider])
        self.app = Flask("kiosk", static_folder="web/static", template_folder="web/templates")
        self.app.testing = True
        self.app.extensions["kiosk"] = SiteContext(
            self.site,
            self.store,
            self.registry,
            self.content,
            self.words,
            self.clock,
            stop_pictures,
            casks_filled_on,
            lambda figures: (),
            lambda figures: self.closed,
            record_cask_sample,
        )
        for part in SHARED:
            part.init_app(self.app)
        for views in (web_views, staff_views, stops_views, lineage_views):
            self.app.register_blueprint(views.bp)
        access.require_declarations(self.app)

    def told(
        self, name: str, value: float, *, of: str = "", ago: timedelta = timedelta(0), **more: object
    ) -> None:
        """Let a figure have a value."""
        self.figures[name, of] = Figure(value, self.clock.at - ago, Basis.MEASURED, **more)  # type: ignore[arg-type]

    def rests(self, name: str, last: datetime, of: str = "") -> None:
        """Let what a figure tells of rest."""
        self.figures[name, of] = Figure(None, last, Basis.MEASURED, missing="resting")

    def reader(self, code: str = "en") -> PageReader:
        """Return somebody who reads now."""
        figures = self.registry.reader(self.store.read, versions, self.site, self.clock.at)
        return PageReader(self.words[code], "us", figures, self.content.facts, self.site.local(self.clock.at))

    def screen(self) -> Screen:
        """Return a browser that was never here before."""
        return Screen(self.app)


State = Callable[[Walk], None]


def _key(spec: Spec) -> str:
    return f"{spec.of}-1" if spec.of else ""


def _whole(spec: Spec) -> int:
    return 2 if spec.unit is Unit.CUT else 12


def everything_fresh(walk: Walk) -> None:
    """Let every figure have a value of this moment."""
    for spec in SPECS:
        walk.told(spec.name, 12.5 if spec.digits else _whole(spec), of=_key(spec))


def everything_stale(walk: Walk) -> None:
    """Let every figure have a value of five days ago."""
    for spec in SPECS:
        walk.told(spec.name, 12.5 if spec.digits else _whole(spec), of=_key(spec), ago=timedelta(days=5))


def everything_rests(walk: Walk) -> None:
    """Let everything rest since two days ago."""
    for spec in SPECS:
        walk.rests(spec.name, walk.clock.at - timedelta(days=2), of=_key(spec))


def nothing_known(walk: Walk) -> None:
    """Let no figure be known."""
    walk.figures.clear()


STATES: tuple[State, ...] = (everything_fresh, everything_stale, everything_rests, nothing_known)


@pytest.fixture
def walk(tmp_path: Path, sqlite_store: Store, now: datetime) -> Walk:
    """A running site of three stops; no figure is known until a test says so."""
    site = tasting_site(tmp_path, route=ROUTE)
    content = kept_content(site, {spec.name for spec in SPECS})
    words = {known.code: load_words(shipped("locales"), known.code, known.locale) for known in site.languages}
    return Walk(site, sqlite_store, Clock(now), content, words)
