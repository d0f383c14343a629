"""Cane in a bottle: the newest lot of the estate's own spirit, what was lost on the way included."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest

from kiosk.production.importing.importing import ImportReport
from kiosk.production.live.chain import CANE_IN_A_BOTTLE, PROVIDER
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from tests.production.live.conftest import Books

Take = Callable[..., ImportReport]


def test_cane_is_shared_out_by_what_was_drawn(take: Take, store: Store, site: Site, now: datetime) -> None:
    take()
    figure = Books(store, site, now).figure(PROVIDER, CANE_IN_A_BOTTLE.name)
    # Of 3000 kg all becomes low wines; 108 of the 136.9 L that came off are hearts, and 11.5 of
    # the 108 L in their receiver went into 37 bottles.
    assert figure.value == pytest.approx(3000 * 108 / 136.9 * 11.5 / 108 / 37, rel=1e-3)


def test_a_lot_with_spirit_from_elsewhere_is_passed_over(
    take_sqlite: Take, sqlite_store: Store, site: Site, now: datetime
) -> None:
    spirit = (
        "code,kind,what,origin,document,received_on,volume_l,volume_temperature_c,scale,reading,temperature_c"
    )
    take_sqlite(
        ("received.csv", "code,kind,what,origin,document,received_on", spirit),
        (
            "received.csv",
            "2026-06-02",
            "2026-06-02,,,,,\nSP-1,spirit,cane spirit,Elsewhere,,2026-06-02,50,20,density_meter,60,20",
        ),
        ("lots.csv", "BL-1,", "AN-1,anejo,2026-06-12,90,750,40,,distilled\nBL-1,"),
        (
            "draws.csv",
            "receiver,SR-1-HT,lot",
            "received,SP-1,lot,AN-1,2026-06-12 09:00,,,29,\nreceiver,SR-1-HT,lot",
        ),
    )
    figure = Books(sqlite_store, site, now).figure(PROVIDER, CANE_IN_A_BOTTLE.name)
    assert figure.as_of == datetime(2026, 6, 10, tzinfo=site.zone)


def test_without_a_lot_it_is_not_known(books: Books) -> None:
    assert books.figure(PROVIDER, CANE_IN_A_BOTTLE.name).missing == "no_record"
