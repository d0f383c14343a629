"""Figures keep what is left and what is new: a wash partly charged, a cask topped up, a cask emptied."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import select

from kiosk.production.lineage.fills import read_fills
from kiosk.production.live.casks import BOTTLES, CASK_PROVIDER
from kiosk.production.live.cellar import FILLED_THIS_YEAR, MEAN_FILLS
from kiosk.production.live.fermentation import FERMENTATION_PROVIDER, FERMENTING
from kiosk.site.settings import Site
from kiosk.site.shipped import shipped
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from kiosk.words.catalogs import load_words
from kiosk.words.formats import percents
from tests.production.conftest import Enter
from tests.production.live.conftest import MORNING, Books, hours

AT = "2026-06-15 09:00"
TOP_UP = {
    "cask": "C-1",
    "code": "F-3",
    "store": "BAJA",
    "at": AT,
    "from_kind": "receiver",
    "from": "SR-1-HD",
    "instrument": "density_meter",
    "added_l": "1",
    "added_temperature_c": "20",
    "added_reading": "77",
    "added_reading_temperature_c": "20",
    "volume_l": "158",
    "volume_temperature_c": "20",
    "reading": "60.1",
    "temperature_c": "20",
}


def test_a_wash_partly_charged_keeps_only_the_rest(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING - hours(96))
    whole_l = books.figure(FERMENTATION_PROVIDER, FERMENTING.name).value
    books.draw(wash, books.run("WR-1", MORNING), 50.0, volume_ml=400_000, at=MORNING)
    assert books.figure(FERMENTATION_PROVIDER, FERMENTING.name).value == whole_l - 400


def test_a_topping_is_no_filling(fill_in: Enter, store: Store, site: Site, now: datetime) -> None:
    def figures() -> list[float | None]:
        with store.read() as session:
            every = CASK_PROVIDER.compute(session, site, now, "")
        return [every[spec.name, ""].value for spec in (FILLED_THIS_YEAR, MEAN_FILLS)]

    before = figures()
    fill_in("top-up", **TOP_UP)
    assert figures() == before == [1, 1]
    with store.read() as session:
        fills = {fill.code: fill for fill in read_fills(session).values()}
    assert (fills["F-3"].topped, fills["F-3"].group, fills["F-1"].group) == (True, None, ("used oak", 1))


def test_an_emptied_cask_takes_nothing_off_what_the_angels_took(
    books: Books, site: Site, now: datetime
) -> None:
    """Three casks lose 5 L in a year; one of them is emptied."""
    for number in (1, 2, 3):
        books.fill(number, now - timedelta(days=365), {0.0: 110.0, 0.5: 107.5, 0.99: 105.0})
    before = books.figure(CASK_PROVIDER, BOTTLES.name, now=now).value
    assert before
    with books.store.write() as session:
        fill_id = session.scalars(select(t.fills.c.id)).first()
        session.execute(t.fills.update().where(t.fills.c.id == fill_id).values(emptied_at=now))
    after = books.figure(CASK_PROVIDER, BOTTLES.name, now=now).value
    assert after == pytest.approx(before, rel=0.01)


ENGLISH = load_words(shipped("locales"), "en", "en")


@pytest.mark.parametrize(
    ("shares", "digits", "written"),
    [
        ([1 / 3, 1 / 3, 1 / 3], 0, ["34%", "33%", "33%"]),
        ([0.276, 0.265, 0.255, 0.204], 0, ["28%", "27%", "25%", "20%"]),
        ([0.5, 0.4996, 0.0004], 0, ["50%", "50%", "<1%"]),
        ([0.997, 0.003], 0, ["99.7%", "0.3%"]),
        ([0.6, 0.2], 0, ["60%", "20%"]),
        ([], 0, []),
    ],
)
def test_shares_add_up_to_their_whole(shares: list[float], digits: int, written: list[str]) -> None:
    assert percents(shares, digits, ENGLISH) == written
