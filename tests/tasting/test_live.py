"""Figures of the tasting room."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import select

from kiosk.figures.figure import Registry
from kiosk.store import rows
from kiosk.store.ledgers import new_key
from kiosk.store.rows import versions
from kiosk.store.tables.production import lots
from kiosk.store.tables.tasting import approvals, pour_marks, pours
from kiosk.tasting.live import PROVIDERS
from tests.plans import scanned
from tests.tasting_room import Tasting, tasting_site


def samples(tasting):
    figures = Registry(PROVIDERS).reader(tasting.store.read, versions, tasting.site, tasting.now)
    return figures.get("samples_today").value


def test_samples_today_counts_what_was_served_after_corrections(tasting):
    assert samples(tasting) == 0
    keys = [tasting.pour(tasting.guests[0]).key for _ in range(4)]
    tasting.correct(keys[0], "void")
    tasting.correct(keys[1], "unfinished")
    tasting.pour(tasting.guests[1])  # refused: not checked
    assert samples(tasting) == 3
    tasting.now += timedelta(days=1)
    assert samples(tasting) == 0


def test_a_sample_of_today_has_a_mean_volume_and_standard_drinks(tasting):
    def mean():
        figures = Registry(PROVIDERS).reader(tasting.store.read, versions, tasting.site, tasting.now)
        return [figures.get(name) for name in ("sample_volume_today", "sample_drinks_today")]

    assert [figure.missing for figure in mean()] == ["none_served"] * 2
    tasting.pour(tasting.guests[0])
    volume, drinks = mean()
    with tasting.store.read() as session:
        poured = session.execute(select(pours.c.volume_ul, pours.c.abv_e2)).one()
    assert volume.value == poured.volume_ul / 1000
    ethanol_ml = volume.value * poured.abv_e2 / 10_000
    # A drink of the United States is 0.6 fl oz of ethanol, 17.744 mL (NIAAA).
    assert tasting.site.standard_drink.country == "US"
    assert abs(drinks.value - ethanol_ml / 17.744) < 0.001


def test_a_glass_set_out_counts_once_its_guest_sat_down(tasting):
    stamp = {"at": tasting.now, "recorded_at": tasting.now}
    poured = {"seat": "1", "tour_id": tasting.tour, "product": "blanco", "volume_ul": 7393, "abv_e2": 4000}
    flags = {"neat": True, "asked": True, "server_checked": True, "policy_key": "", "clock_ms": 0}
    key = new_key()
    with tasting.store.write() as session:
        session.execute(pours.insert().values(**stamp, key=key, **poured, **flags))
    assert samples(tasting) == 0
    with tasting.store.write() as session:
        seated = {"key": new_key(), "pour_key": key, "kind": "seated", "guest_id": tasting.guests[0]}
        session.execute(pour_marks.insert().values(**stamp, **seated))
    assert samples(tasting) == 1
    assert tasting.room().tiles[0].samples == 1


def test_samples_today_reads_no_pours_of_other_days(sqlite_store, tmp_path, now):
    tasting = Tasting.begun(sqlite_store, tasting_site(tmp_path), now)
    assert "pours" not in scanned(sqlite_store, lambda: samples(tasting))


def test_lots_open_are_those_approved_on_this_day(tasting):
    def lots_open():
        figures = Registry(PROVIDERS).reader(tasting.store.read, versions, tasting.site, tasting.now)
        return figures.get("lots_open").value

    before, today = lots_open(), tasting.site.service_day(tasting.now)
    prov = {"recorded_at": tasting.now, "source": "test"}
    lot = {"product": "blanco", "bottled_on": today, "bottles": 9, "bottle_ml": 750, "abv_e2": 4000, **prov}
    with tasting.store.write() as session:
        batch = rows.insert_batch(session, lots, "lot", "BL-X", {**lot, "strength_basis": "label"})
        known = session.execute(select(approvals)).first()._asdict()
        del known["id"]
        for code, from_on, until_on in (
            ("R-1", today, None),
            ("R-2", today, None),  # of the same lot
            ("R-3", today + timedelta(days=1), None),
            ("R-4", today - timedelta(days=9), today - timedelta(days=1)),
        ):
            own = {"code": code, "batch_id": batch, "from_on": from_on, "until_on": until_on}
            rows.insert(session, approvals, {**known, **own})
    assert lots_open() == before + 1
    tasting.now -= timedelta(days=1)
    assert lots_open() == before + 1  # R-4 alone
