"""Opening, weighing and closing bottles on both databases."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from datetime import timedelta

import pytest

from kiosk.entries import review
from kiosk.entries.errors import Malformed
from kiosk.figures.errors import FigureError
from kiosk.store import rows
from kiosk.store.errors import Stale
from kiosk.store.tables.tasting import approvals
from kiosk.tasting.bottles import bottle_entries
from kiosk.tasting.bottles.bottle_entries import BottleEnded, UnknownBottle
from kiosk.tasting.bottles.shelf import NotApproved
from kiosk.tasting.bottles.stock import sealed
from tests.bar import FULL_G, approval_of, looked_at, opened, stocked, told
from tests.tasting_room import PRODUCTS, QUARTER_UL, Tasting, tasting_site


def held(tasting):
    with tasting.store.read() as session:
        return bottle_entries.held_weighings(session)


def test_a_bottle_opened_full_tells_its_tare_and_level(tasting):
    bottle = looked_at(tasting, opened(tasting))
    account = bottle.account()
    assert bottle.code.endswith("/1")
    assert account.tare_g == pytest.approx(500, abs=1)
    assert account.level_ul == pytest.approx(750_000, abs=5)


def test_a_level_goes_down_by_pours_and_is_set_right_by_weight(tasting):
    bottle = opened(tasting)
    for _ in range(3):
        tasting.pour(tasting.guests[0])
    assert looked_at(tasting, bottle).account().level_ul == pytest.approx(750_000 - 3 * QUARTER_UL, abs=5)
    later = tasting.now + timedelta(minutes=1)
    assert told(tasting, bottle, "weigh", gross_g=1180, temperature_mc=20_000, at=later) == "recorded"
    level = looked_at(tasting, bottle).account().level_ul
    assert level == pytest.approx((1180 - 500) / 0.948 * 1000, abs=600)


def test_a_heavier_bottle_waits_for_the_manager(tasting):
    bottle = opened(tasting)
    later = tasting.now + timedelta(minutes=1)
    origin = tasting.origin()
    for _ in range(2):
        assert told(tasting, bottle, "weigh", gross_g=FULL_G + 30, at=later, origin=origin) == "held"
    (waiting,) = held(tasting)
    assert (waiting.reasons, waiting.payload["gross_g"]) == (["level_rises"], FULL_G + 30)
    assert looked_at(tasting, bottle).account().level_ul == pytest.approx(750_000, abs=5)
    for settled in (False, True):
        with pytest.raises(Stale) if settled else nullcontext(), tasting.store.write() as session:
            review.settle(session, waiting, 1, review.RECORDED, review.RECORDED, by=tasting.ana, at=later)
            bottle_entries.record_held_weighing(session, waiting, at=later)
    assert held(tasting) == []
    account = looked_at(tasting, bottle).account()
    assert account.findings == {origin.key: "level_rises"}
    assert account.level_ul == pytest.approx(750_000, abs=5)


def test_an_entry_sent_again_counts_once(tasting):
    origin = tasting.origin()
    bottle = opened(tasting, origin=origin)
    assert opened(tasting, origin=origin) == bottle
    spilt = tasting.origin()
    for _ in range(2):
        told(tasting, bottle, "spill", volume_ul=10_000, origin=spilt)
    assert looked_at(tasting, bottle).account().spilt_ul == 10_000


def test_a_key_sent_again_with_more_than_a_bottle_holds_is_refused(tasting):
    bottle, spilt = opened(tasting), tasting.origin()
    told(tasting, bottle, "spill", volume_ul=10_000, origin=spilt)
    with pytest.raises(Malformed):
        told(tasting, bottle, "spill", volume_ul=2**70, origin=spilt)


def test_house_use_names_who_used_it(tasting):
    bottle = opened(tasting)
    with pytest.raises(Malformed):
        told(tasting, bottle, "house_use", volume_ul=30_000)
    told(tasting, bottle, "house_use", volume_ul=30_000, used_by=tasting.bea)
    assert looked_at(tasting, bottle).account().house_use_ul == 30_000


@pytest.mark.parametrize("end", ["break", "close"])
def test_what_has_ended_takes_no_more_entries(tasting, end):
    bottle = opened(tasting)
    told(tasting, bottle, end)
    with pytest.raises(BottleEnded):
        told(tasting, bottle, "spill", volume_ul=1)
    with pytest.raises(UnknownBottle):
        told(tasting, 999, "spill", volume_ul=1)


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("weigh", {}),
        ("spill", {}),
        ("spill", {"volume_ul": 750_001}),
        ("top_up", {"volume_ul": 1}),
        ("open", {"gross_g": 1}),
    ],
)
def test_what_makes_no_sense_is_refused(tasting, kind, values):
    with pytest.raises(Malformed):
        told(tasting, opened(tasting), kind, **values)


def test_only_what_is_approved_here_is_opened(tasting):
    with pytest.raises(NotApproved):
        opened(tasting, room="cellar")
    with pytest.raises(NotApproved):
        opened(tasting, at=tasting.now - timedelta(days=3))


def test_a_full_bottle_weighs_more_than_its_content(tasting):
    with pytest.raises(FigureError):
        opened(tasting, gross_g=700)


def test_a_jug_weighed_empty_needs_no_full_weight(tasting):
    jug = opened(tasting, kind="jug", size_ml=1000, gross_g=None, tare_g=420)
    told(tasting, jug, "weigh", gross_g=420 + 474, at=tasting.now + timedelta(minutes=1))
    assert looked_at(tasting, jug).account().level_ul == pytest.approx(500_000, abs=100)


def test_a_sweet_spirit_without_a_measured_density_is_not_weighed(sqlite_store, tmp_path, now):
    sweet = replace(PRODUCTS["jengibre"], sugar_g_per_l=150)
    site = tasting_site(tmp_path, products={**PRODUCTS, "jengibre": sweet})
    tasting = Tasting.begun(sqlite_store, site, now)
    bottle = opened(tasting, "jengibre", gross_g=1266)
    told(tasting, bottle, "weigh", gross_g=900, at=now + timedelta(minutes=1))
    unweighed = looked_at(tasting, bottle)
    assert (unweighed.density_g_ml, unweighed.account().level_ul) == (None, 750_000)
    with tasting.store.write() as session:
        measured = {"density_e4": 10_220}
        rows.change(session, approvals, approval_of(tasting, "jengibre"), 1, measured, by=None, at=now)
    level = looked_at(tasting, bottle).account().level_ul
    assert level == pytest.approx(750_000 - (1266 - 900) / 1.022 * 1000, abs=5)


def test_stock_is_not_touched_by_a_jug(tasting):
    stocked(tasting, "received", 3)
    opened(tasting, kind="jug", gross_g=None)
    with tasting.store.read() as session:
        (found,) = sealed(session, "main", tasting.now + timedelta(hours=1)).values()
    assert found.bottles == 3
