"""Pages with live figures ask the database the same few questions, however much it holds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import event

from kiosk.production.importing.previews import import_folder
from kiosk.site.settings import RouteStop, Site
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, hire, running
from tests.production.folder import write
from tests.tasting_room import tasting_site

SLUGS = ("mill", "fermentation", "still-house", "cask-store", "bottling", "tasting-room")


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """A site with six stops."""
    return tasting_site(tmp_path, route=tuple(RouteStop(slug, 12, 2, 12) for slug in SLUGS))


def take(store: Store, site: Site, folder: Path, now: datetime) -> None:
    with store.write() as session:
        import_folder(session, site, folder, by=None, at=now)


Count = Callable[[Callable[[], object]], list[str]]


@pytest.fixture
def count(sqlite_store: Store) -> Count:
    """Return what is asked of the database while something is done, transactions apart."""
    asked: list[str] = []
    event.listen(sqlite_store.engine, "before_cursor_execute", lambda *told: asked.append(told[2]))

    def counted(work: Callable[[], object]) -> list[str]:
        asked.clear()
        work()
        return [one for one in asked if not one.startswith(("PRAGMA", "BEGIN"))]

    return counted


def app_of(store: Store, site: Site, now: datetime) -> Flask:
    return running(site, store, Clock(now))


@pytest.mark.parametrize("slug", SLUGS)
def test_a_warm_stop_page_asks_for_the_versions_and_nothing_else(
    slug: str, sqlite_store: Store, site: Site, now: datetime, count: Count, tmp_path: Path
) -> None:
    take(sqlite_store, site, write(tmp_path / "records"), now)
    guest = Screen(app_of(sqlite_store, site, now))
    guest.get(f"/en/stops/{slug}")
    asked = count(lambda: guest.get(f"/en/stops/{slug}"))
    assert len(asked) == 1
    assert "FROM changes" in asked[0]


def test_a_guides_warm_page_of_the_cask_store_reads_no_cask(
    sqlite_store: Store, site: Site, now: datetime, count: Count
) -> None:
    take(sqlite_store, site, shipped("demo_site") / "records", now)
    guide, _ = staff(sqlite_store, site, now)
    page = guide.get("/staff/stops/cask-store?day=9&month=6").text
    assert page.count("<svg") > 2  # the pictures are there
    asked = count(lambda: guide.get("/staff/stops/cask-store?day=9&month=6"))
    assert not [one for one in asked if "fills" in one or "gauges" in one]


def test_no_page_asks_more_when_there_is_more(
    sqlite_store: Store, site: Site, now: datetime, count: Count, tmp_path: Path
) -> None:
    take(sqlite_store, site, write(tmp_path / "records"), now)
    guide, wall = staff(sqlite_store, site, now)
    pages = [(guide, f"/staff/stops/{slug}") for slug in SLUGS] + [(wall, "/staff/wall.json")]

    def counts() -> list[int]:
        for who, page in pages:
            assert who.get(page).status_code == 200
        return [len(count(lambda who=who, page=page: who.get(page))) for who, page in pages]  # type: ignore[misc]

    few = counts()
    take(sqlite_store, site, shipped("demo_site") / "records", now)
    assert counts() == few
    # Who asks and on which device, what tonight's glasses are, and what the picture of one stop needs.
    assert max(few) <= 7


def staff(store: Store, site: Site, now: datetime) -> tuple[Screen, Screen]:
    """Return a guide's tablet and the wall's screen, of one app."""
    app = app_of(store, site, now)
    person = hire(store, site, now, roles=("guide", "manager"))
    guide, wall = Screen(app), Screen(app)
    guide.enrol(store, site, now)
    guide.sign_in(person)
    wall.enrol(store, site, now, name="hall", kind="wall")
    return guide, wall
