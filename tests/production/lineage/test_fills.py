"""Fills are read whole: gauges, events and what was drawn out, in litres."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from kiosk.figures.casks import EventKind
from kiosk.production.lineage.fills import read_fills
from kiosk.production.records.recording import ImportReport
from kiosk.store.engine import Store

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
