"""Fills are read whole: gauges, events and what was drawn out, in litres."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from sqlalchemy import select

from kiosk.figures.casks import EventKind
from kiosk.production.lineage.fills import read_fills
from kiosk.production.records.recording import ImportReport
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.live.conftest import MORNING, YEAR, Books

Take = Callable[..., ImportReport]


def test_a_fill_knows_its_store_its_gauges_and_what_was_taken(take: Take, store: Store) -> None:
    take(
        ("stores.csv", "BAJA,", "ALTA,Upper store\nBAJA,"),
        ("cask_events.csv", "F-1,2026-06-13", "F-1,2026-06-14 10:00,move,,,,,,ALTA\nF-1,2026-06-13"),
        (
            "draws.csv",
            "receiver,SR-1-HT,lot",
            "fill,F-1,lot,BL-1,2026-06-10 08:00,,,0.6,1\nreceiver,SR-1-HT,lot",
        ),
    )
    with store.read() as session:
        (fill,) = read_fills(session).values()
    assert (fill.code, fill.store, len(fill.gauges)) == ("F-1", "BAJA", 2)
    assert fill.filled_at == datetime(2026, 6, 8, 14, 0, tzinfo=UTC)
    assert (fill.gauges[0].volume20_l, fill.gauges[0].alcohol_l) == (160.0, 96.0)
    assert {(e.kind, e.volume20_l, e.alcohol_l, e.store) for e in fill.events} == {
        (EventKind.SAMPLE, 0.5, 0.3, ""),
        (EventKind.MOVE, None, None, "ALTA"),
        (EventKind.TRANSFER, 1.0, 0.6, ""),
    }


def test_a_fill_lies_in_its_own_cask_and_is_counted_among_the_fills_of_it(books: Books) -> None:
    for number, cask, wood in ((1, "C-1", "oak"), (2, "C-2", "amburana"), (3, "C-1", "oak")):
        books.cask(cask, wood)
        begun = MORNING - (5 - number) * YEAR
        books.fill(number, begun, {0: 60, 0.5: 55}, begun + YEAR / 2, cask=cask, store=f"S-{number}")
    with books.store.read() as session:
        fills = {fill.code: fill for fill in read_fills(session).values()}
    assert [(fill.cask, fill.wood, fill.number, fill.store) for fill in fills.values()] == [
        ("C-1", "oak", 1, "S-1"),
        ("C-2", "amburana", 1, "S-2"),
        ("C-1", "oak", 2, "S-3"),
    ]
    first = fills["F-1"]
    assert (first.filled_at, first.emptied_at) == (MORNING - 4 * YEAR, MORNING - 3.5 * YEAR)
    assert [gauge.alcohol_l for gauge in first.gauges] == [60.0, 55.0]
    assert first.gauges[0].volume20_l == 100.0


def test_only_the_fills_that_are_asked_for_are_read_each_with_what_is_its_own(books: Books) -> None:
    lot = books.lot("AN-1", MORNING.date(), 100)
    fills = [books.fill(n, MORNING - YEAR, {0: 60 + n}) for n in (1, 2, 3)]
    for n, fill in enumerate(fills[:2], 1):
        books.draw(fill, lot, n, volume_ml=2000 * n)
        books.row(t.cask_events, fill_id=fill, kind="sample", at=MORNING, volume20_ml=500, alcohol_ml=300 * n)
    books.draw(fills[1], lot, 5)
    with books.store.read() as session:
        drawn = read_fills(session, select(t.draws.c.from_id).scalar_subquery())
        every = read_fills(session)
    assert (drawn.keys(), every.keys()) == (set(fills[:2]), set(fills))
    assert [len(fill.gauges) for fill in every.values()] == [1, 1, 1]
    assert {(e.kind, e.volume20_l, e.alcohol_l) for e in drawn[fills[1]].events} == {
        (EventKind.SAMPLE, 0.5, 0.6),
        (EventKind.TRANSFER, 4.0, 2.0),
        (EventKind.TRANSFER, None, 5.0),
    }
    assert every[fills[2]].events == ()
