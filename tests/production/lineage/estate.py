"""The records behind one bottling: two fields, two casks, spirit from elsewhere and ginger."""

from __future__ import annotations

from datetime import date, timedelta

from kiosk.store.tables import production as t
from tests.production.live.conftest import MORNING, Books, hours

DAY = timedelta(days=1)
SET = MORNING - 60 * DAY


def milled(books: Books, wash: int, code: str, field: str, cane_kg: int, on: date) -> None:
    """Record a field, and its load of which a tenth of the cane's weight went as sugar into a wash."""
    land = books.batch(t.fields, "field", field, variety="striped", area_m2=9000)
    load = books.load(code, SET, cane_kg * 1000)
    with books.store.write() as session:
        session.execute(t.loads.update().where(t.loads.c.id == load).values(cut_on=on))
    books.draw(land, load, cane_kg, measure="cane_g", at=SET)
    books.draw(load, wash, cane_kg / 10, measure="sugar_g", at=SET)


def distilled(books: Books) -> tuple[int, int]:
    """Record a wash of 400 kg of sugar, its two runs, and return the receivers of hearts and of tails.

    Pure alcohol: 220 L in the wash, 200 L in the low wines, 120 L of hearts, 40 L of tails for later.
    """
    wash = books.wash("W-1", "T1", SET, SET + 4 * DAY)
    milled(books, wash, "L-1", "HILL", 3000, date(2026, 4, 16))
    milled(books, wash, "L-2", "VEGA", 1000, date(2026, 4, 17))
    first = books.run("WR-1", SET + 5 * DAY, SET + 5 * DAY + hours(6), kind="wash")
    books.draw(wash, first, 220, at=SET + 5 * DAY)
    low_wines = books.receiver(first, "WR-1-LW", "low_wines", 800, 25)
    books.draw(first, low_wines, 200, at=SET + 5 * DAY + hours(6))
    second = books.run("SR-1", SET + 6 * DAY, SET + 6 * DAY + hours(6))
    books.draw(low_wines, second, 200, at=SET + 6 * DAY)
    hearts = books.receiver(second, "SR-1-HT", "hearts", 1200 / 7, 70, fate="cask")
    tails = books.receiver(second, "SR-1-TL", "tails", 100, 40, fate="feints")
    for receiver, litres in ((hearts, 120), (tails, 40)):
        books.draw(second, receiver, litres, at=SET + 6 * DAY + hours(6))
    return hearts, tails


def bottled(books: Books, received_l: float = 20, emptied: bool = True, bottles: int = 300) -> int:
    """Record a lot of 40 L from each of two casks and spirit from elsewhere, and return its id."""
    hearts, _tails = distilled(books)
    lot = books.lot("AN-1", date(2026, 6, 15), bottles, product="anejo")
    for number, store in ((1, "BAJA"), (2, "ALTA")):
        ended = MORNING - DAY if emptied else None
        fill = books.fill(number, SET + 7 * DAY, {0: 60}, ended, store=store)
        books.draw(hearts, fill, 60, at=SET + 7 * DAY)
        books.draw(fill, lot, 40, at=MORNING - DAY)
    if received_l:
        arrived = {"received_on": date(2026, 6, 1), "alcohol_ml": 50_000}
        spirit = books.batch(
            t.received, "received", "SP-1", kind="spirit", what="cane spirit", origin="Elsewhere", **arrived
        )
        books.draw(spirit, lot, received_l, at=MORNING - DAY)
    return lot
