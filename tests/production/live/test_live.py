"""The providers together: on both databases, kept by what they read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from sqlalchemy import event

from kiosk.figures.figure import Registry
from kiosk.production.importing.importing import import_folder
from kiosk.production.importing.report import ImportReport
from kiosk.production.live import PROVIDERS
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.changes import versions
from kiosk.store.engine import Store

Take = Callable[..., ImportReport]


def test_after_an_import_a_warm_book_says_what_a_cold_one_says(
    take: Take, store: Store, site: Site, now: datetime
) -> None:
    warm = Registry(PROVIDERS)
    assert warm.book(store.read, versions, site, now).get("casks_filled").value is None
    take()
    later = warm.book(store.read, versions, site, now)
    cold = Registry(PROVIDERS).book(store.read, versions, site, now)
    for name, spec in warm.specs.items():
        assert later.each(name) == cold.each(name), spec.name
    assert later.get("casks_filled").value == 1


def test_every_figure_of_production_is_there() -> None:
    names = [spec.name for provider in PROVIDERS for spec in provider.specs]
    assert len(names) == len(set(names)) >= 44
    for subject in ("cane", "wash", "run", "hearts", "casks", "angels", "bottled", "a_bottle"):
        assert any(subject in name for name in names), subject


# Fills take four queries whatever the casks; the chain behind the newest lot takes six more.
MOST_QUERIES = 10


def test_a_provider_asks_a_fixed_number_of_queries(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    asked: list[str] = []
    event.listen(sqlite_store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))

    def counts() -> list[int]:
        found = []
        for provider in PROVIDERS:
            with sqlite_store.read() as session:
                session.connection()
                asked.clear()
                provider.compute(session, site, now, "")
                found.append(len(asked))
        return found

    take_sqlite()
    few = counts()
    with sqlite_store.write() as session:
        import_folder(session, site, shipped("demo_site") / "records", by=None, at=now)
    assert counts() == few
    assert max(few) <= MOST_QUERIES
