"""The providers together: on both databases, kept by what they read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from kiosk.figures.figure import Registry
from kiosk.production.importing.importing import ImportReport
from kiosk.production.live import PROVIDERS
from kiosk.site.settings import Site
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
    assert {spec.name for provider in PROVIDERS for spec in provider.specs} == {
        "casks_filled",
        "spirit_maturing",
        "spirit_maturing_volume",
        "angels_share_to_date",
        "run_abv_now",
        "run_proof_now",
        "hearts_volume_today",
        "hearts_abv_today",
        "wash_day",
        "wash_abv_now",
        "cane_milled_today",
        "cane_in_a_bottle",
    }
