"""Bottles of today and this year, the water of reduction, and the readings taken today.

Cane in a bottle: the newest lot of the estate's own spirit, what was lost on the way included.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import func, select, update

from kiosk.figures.figure import RESTING, Basis
from kiosk.production.lineage.chain import juice_kg
from kiosk.production.live.bottling import (
    BOTTLE_PROVIDER,
    BOTTLED_TODAY,
    BOTTLED_YEAR,
    BOTTLING_PROVIDER,
    CANE_IN_A_BOTTLE,
    CASKS_BEHIND,
    JUICE_IN_A_BOTTLE,
    LABORATORY_PROVIDER,
    READINGS_TODAY,
    WATER_SHARE,
    WATER_YEAR,
)
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.lineage.estate import bottled
from tests.production.live.conftest import MORNING, YEAR, Books, hours

TODAY = date(2026, 6, 16)


def test_bottles_of_today_and_of_the_year_are_added_up(books: Books) -> None:
    books.lot("BL-0", date(2025, 12, 31), 1000)
    books.lot("BL-1", date(2026, 1, 1), 300)
    books.lot("BL-2", TODAY, 50)
    assert books.figure(BOTTLING_PROVIDER, BOTTLED_TODAY.name).value == 50
    assert books.figure(BOTTLING_PROVIDER, BOTTLED_YEAR.name).value == 350


def test_between_bottlings_the_line_rests_since_the_last_one(books: Books) -> None:
    books.lot("BL-0", date(2025, 12, 30), 1000)
    for spec in (BOTTLED_TODAY, BOTTLED_YEAR, WATER_YEAR, WATER_SHARE):
        figure = books.figure(BOTTLING_PROVIDER, spec.name)
        assert figure.missing == RESTING
        assert books.site.local(figure.as_of).date() == date(2025, 12, 30)  # type: ignore[arg-type]


def test_a_house_that_never_bottled_is_not_known(books: Books) -> None:
    assert {figure.missing for figure in books.figures(BOTTLING_PROVIDER).values()} == {"no_record"}


def drawn_lot(books: Books, code: str, strength: float, volume_ml: int | None, **values: object) -> None:
    """A lot of 150 L at 40 % out of 60 L of pure alcohol of a strength."""
    run = books.run(f"SR-{code}", books.now - hours(90), books.now - hours(80))
    hearts = books.receiver(run, f"HT-{code}", "hearts", 6000 / strength, strength)
    lot = books.lot(code, TODAY, 200, **values)
    books.draw(hearts, lot, 60, volume_ml=volume_ml)


# 60 L of pure alcohol at 60 % vol weigh 90.911 kg/hL x 100 L, 150 L at 40 % 94.805: 51.39 L of water (by
# the practical tables of OIML R 22).
@pytest.mark.parametrize("volume_ml", [None, 100_000], ids=["by its receiver", "by its own volume"])
def test_water_is_what_was_bottled_less_what_was_drawn_by_weight(books: Books, volume_ml: int | None) -> None:
    drawn_lot(books, "BL-1", 60.0, volume_ml)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).value == pytest.approx(51.39, abs=0.01)
    share = books.figure(BOTTLING_PROVIDER, WATER_SHARE.name)
    assert share.value == pytest.approx(51.4 / 151.4, abs=0.001)


def test_a_lot_with_sugar_tells_no_water(books: Books) -> None:
    drawn_lot(books, "CO-1", 60.0, None, solids_g_per_l_e2=20_000)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).missing == "no_record"


def test_a_part_of_unknown_strength_leaves_its_lot_out(books: Books) -> None:
    fill = books.fill(1, books.now - YEAR, {0: 60})
    books.draw(fill, books.lot("AN-1", TODAY, 200), 60)
    drawn_lot(books, "BL-1", 60.0, None)
    assert books.figure(BOTTLING_PROVIDER, WATER_YEAR.name).value == pytest.approx(51.39, abs=0.01)


def test_readings_of_stills_tanks_and_casks_count(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    books.gravity(books.wash("W-2", "T2", MORNING), MORNING, 1.06)
    books.parrot(books.run("SR-1", MORNING), MORNING + hours(1), "hearts", 1, 80)
    books.fill(1, books.now - YEAR, {0: 100, 1: 90})
    figure = books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name)
    assert (figure.value, figure.as_of) == (3, books.now)


def test_a_day_without_a_reading_rests_since_the_last_one(books: Books) -> None:
    books.gravity(books.wash("W-1", "T1", MORNING - hours(50)), MORNING - hours(40), 1.06)
    figure = books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name)
    assert (figure.missing, figure.as_of) == (RESTING, MORNING - hours(40))


def test_a_house_without_a_reading_is_not_known(books: Books) -> None:
    assert books.figure(LABORATORY_PROVIDER, READINGS_TODAY.name).missing == "no_record"


Take = Callable[..., ImportReport]


def test_cane_is_shared_out_by_what_was_drawn(take: Take, store: Store, site: Site, now: datetime) -> None:
    take()
    figure = Books(store, site, now).figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name)
    # Of 3000 kg all becomes low wines; 108 of the 136.9 L that came off are hearts, and 11.5 of
    # the 108 L in their receiver went into 37 bottles.
    assert figure.value == pytest.approx(3000 * 108 / 136.9 * 11.5 / 108 / 37, rel=1e-3)


def test_juice_goes_the_way_of_the_cane(take: Take, store: Store, site: Site, now: datetime) -> None:
    take()
    cane, juice = (
        Books(store, site, now).figure(BOTTLE_PROVIDER, spec.name)
        for spec in (CANE_IN_A_BOTTLE, JUICE_IN_A_BOTTLE)
    )
    # One load stands behind the lot, so both keep the load's own proportion.
    with store.read() as session:
        load = session.execute(select(t.loads)).one()
    in_the_load = juice_kg(load.juice_ml, load.brix_e2) / (load.cane_g / 1000)
    assert juice.value / cane.value == pytest.approx(in_the_load)  # type: ignore[operator]


def test_casks_behind_a_bottle_are_those_of_the_newest_lot_that_lay_in_wood(books: Books) -> None:
    fills = [books.fill(n, books.now - YEAR, {0: 100}) for n in (1, 2, 3)]
    aged = books.lot("AN-1", date(2026, 5, 1), 100)
    for fill in fills[:2]:
        books.draw(fill, aged, 15)
    run = books.run("SR-1", books.now - hours(9), books.now - hours(4))
    books.draw(books.receiver(run, "SR-1-HT", "hearts", 100, 70), books.lot("BL-1", date(2026, 6, 1), 50), 15)
    figure = books.figure(BOTTLE_PROVIDER, CASKS_BEHIND.name)
    assert (figure.value, figure.rests_on) == (2, (f"lot:{aged}",))


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
    figure = Books(sqlite_store, site, now).figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name)
    assert figure.as_of == datetime(2026, 6, 10, tzinfo=site.zone)


def test_without_a_lot_it_is_not_known(books: Books) -> None:
    assert books.figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name).missing == "no_record"


def cane_kg(books: Books) -> float:
    """Return the cane behind the lot of 300 bottles that the estate bottled."""
    figure = books.figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name)
    assert figure.value is not None
    return figure.value * 300


def test_the_cane_of_what_was_kept_bears_the_losses(books: Books) -> None:
    """120 of the 160 L that 4000 kg gave are hearts; all of them went into two casks that are empty now."""
    lot = bottled(books, received_l=0)
    assert cane_kg(books) == pytest.approx(3000, rel=1e-7)
    figure = books.figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name)
    assert (figure.basis, figure.rests_on) == (Basis.ESTIMATED, (f"lot:{lot}",))
    assert figure.as_of == datetime(2026, 6, 15, tzinfo=books.site.zone)
    assert books.figure(BOTTLE_PROVIDER, CASKS_BEHIND.name).value == 2


def test_what_lies_in_the_casks_still_keeps_its_cane(books: Books) -> None:
    """Of 60 L in each cask 40 L were drawn."""
    bottled(books, received_l=0, emptied=False)
    assert cane_kg(books) == pytest.approx(2000, rel=1e-6)


@pytest.mark.parametrize(("gauged_ml", "kg"), [(240_000, 1500), (120_000, 3000), (110_000, 3000)])
def test_what_lies_in_a_receiver_still_keeps_its_cane(books: Books, gauged_ml: int, kg: float) -> None:
    bottled(books, received_l=0)
    with books.store.write() as session:
        hearts = update(t.receivers).where(t.receivers.c.cut == "hearts")
        session.execute(hearts.values(alcohol_ml=gauged_ml))
    assert cane_kg(books) == pytest.approx(kg, rel=1e-7)


def test_what_was_destroyed_keeps_no_cane(books: Books) -> None:
    bottled(books, received_l=0)
    with books.store.write() as session:
        session.execute(update(t.receivers).where(t.receivers.c.cut == "tails").values(fate="destroyed"))
    assert cane_kg(books) == pytest.approx(4000, rel=1e-7)


def test_one_load_without_brix_leaves_the_juice_unknown_and_not_the_cane(books: Books) -> None:
    bottled(books, received_l=0)
    assert books.figure(BOTTLE_PROVIDER, JUICE_IN_A_BOTTLE.name).value is not None
    with books.store.write() as session:
        last = session.scalar(select(func.max(t.loads.c.id)))
        session.execute(update(t.loads).where(t.loads.c.id == last).values(brix_e2=None))
    assert books.figure(BOTTLE_PROVIDER, JUICE_IN_A_BOTTLE.name).missing == "no_record"
    assert cane_kg(books) == pytest.approx(3000, rel=1e-7)


def test_a_lot_counts_from_its_day_and_a_draw_from_its_moment(books: Books) -> None:
    bottled(books, received_l=0)
    tomorrow = books.lot("AN-2", date(2026, 6, 17), 100)
    fill = books.fill(3, books.now - YEAR, {0: 60})
    books.draw(fill, tomorrow, 40, at=books.now)
    assert books.figure(BOTTLE_PROVIDER, CASKS_BEHIND.name).value == 2
    today = books.lot("AN-3", date(2026, 6, 16), 100)
    books.draw(fill, today, 10, at=books.now + timedelta(seconds=1))
    assert books.figure(BOTTLE_PROVIDER, CASKS_BEHIND.name).value == 2
    books.draw(fill, today, 10, at=books.now)
    figure = books.figure(BOTTLE_PROVIDER, CASKS_BEHIND.name)
    assert (figure.value, figure.basis, figure.rests_on) == (1, Basis.COUNTED, (f"lot:{today}",))


def test_a_lot_of_cane_that_nobody_weighed_is_not_known(books: Books) -> None:
    lot, fill = books.lot("AN-1", date(2026, 6, 15), 300), books.fill(1, books.now - YEAR, {0: 60})
    books.draw(fill, lot, 40)
    assert books.figure(BOTTLE_PROVIDER, CANE_IN_A_BOTTLE.name).missing == "no_record"


def test_spirit_from_elsewhere_without_alcohol_in_the_lot_does_not_pass_it_over(books: Books) -> None:
    lot = bottled(books, received_l=0)
    values = {"kind": "spirit", "what": "cane spirit", "received_on": date(2026, 6, 2)}
    books.draw(books.batch(t.received, "received", "SP-1", **values), lot, 0)
    assert cane_kg(books) == pytest.approx(3000, rel=1e-7)
