"""The pages of cards, through HTTP."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from kiosk.app import create_app
from kiosk.site.settings import RouteStop
from kiosk.store.engine import Store
from tests.actors import Clock, Screen, hire, small_site
from tests.paper.reading import pictures, read_by_both, words_on

ROUTE = (RouteStop("still-house", 15, 2, 12), RouteStop("tasting-room", 40, 4, 22))


def bar_tablet(store: Store, folder: Path, now: datetime, role: str = "guide", **site_changes: Any) -> Screen:
    """Return an enrolled screen with somebody signed in."""
    site = small_site(folder, route=ROUTE, staff_over_http=True, **site_changes)
    screen = Screen(create_app(site, store, Clock(now)))
    hire(store, site, now, name="Bea", roles=("manager",))  # so that enrolling asks for no first manager
    screen.enrol(store, site, now)
    screen.sign_in(hire(store, site, now, roles=(role,)))
    return screen


def test_the_list_links_each_card_on_both_sheets(sqlite_store: Store, tmp_path: Path, now: datetime) -> None:
    page = bar_tablet(sqlite_store, tmp_path, now).get("/staff/cards")
    shown = page.get_data(as_text=True)
    assert page.status_code == 200
    for slug in ("still-house", "tasting-room"):
        for paper in ("a4", "letter"):
            assert f"/staff/cards/{slug}.pdf?paper={paper}&amp;language=both" in shown


@pytest.mark.parametrize("query", ["", "?paper=letter&language=es", "?paper=a4&language=both"])
def test_a_card_is_a_pdf_whose_code_opens_the_stop(
    query: str, sqlite_store: Store, tmp_path: Path, now: datetime
) -> None:
    answer = bar_tablet(sqlite_store, tmp_path, now).get(f"/staff/cards/still-house.pdf{query}")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    address = "https://visit.example/s/still-house"
    assert read_by_both(pictures(answer.data)[0]) == ([address], address)
    assert "CASA DE ALAMBIQUES" in words_on(answer.data)


@pytest.mark.parametrize(
    "path",
    ["mill.pdf", "still-house.pdf?paper=a5", "still-house.pdf?language=fr", "../secret.pdf", "x%00.pdf"],
)
def test_what_is_not_there_is_not_found(
    path: str, sqlite_store: Store, tmp_path: Path, now: datetime
) -> None:
    assert bar_tablet(sqlite_store, tmp_path, now).get(f"/staff/cards/{path}").status_code == 404


def test_a_loopback_address_is_refused_with_what_to_set(
    sqlite_store: Store, tmp_path: Path, now: datetime
) -> None:
    screen = bar_tablet(sqlite_store, tmp_path, now, public_address="http://127.0.0.1:8000")
    refused = screen.get("/staff/cards/still-house.pdf")
    assert refused.status_code == 409
    assert "public_address" in refused.get_data(as_text=True)
    assert "public_address" in screen.get("/staff/cards").get_data(as_text=True)


def test_a_trainee_does_not_print(sqlite_store: Store, tmp_path: Path, now: datetime) -> None:
    screen = bar_tablet(sqlite_store, tmp_path, now, role="trainee")
    assert screen.get("/staff/cards").status_code == 403
    assert screen.get("/staff/cards/still-house.pdf").status_code == 403
