"""The chain holds what each batch was measured to hold."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kiosk.production.importing.report import ImportReport
from kiosk.production.lineage.chain import read_chain
from kiosk.store.engine import Store

Take = Callable[..., ImportReport]


@pytest.mark.parametrize(
    ("batch", "measure", "amount"),
    [
        # 1700 L of 16 °Bx weigh 1.0653 x 0.9982 kg/L (NBS C440): 289.2 kg of sugar.
        (("load", "L-1"), "sugar_g", 289_200),
        # From 1.0630 to 0.9960 at 30 °C, 131.25 x the fall (common practice): about 8.8 % vol of 1700 L.
        (("wash", "W-1"), "alcohol_ml", 151_000),
        (("receiver", "SR-1-HT"), "alcohol_ml", 108_000),
        (("run", "SR-1"), "alcohol_ml", 143_100),
        (("fill", "F-1"), "alcohol_ml", 96_000),
    ],
)
def test_a_batch_holds_what_was_measured(
    take_sqlite: Take, sqlite_store: Store, batch: tuple[str, str], measure: str, amount: float
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        chain = read_chain(session)
    holds = {(chain.names[row_id], what): held for (row_id, what), held in chain.holds.items()}
    assert holds[batch, measure] == pytest.approx(amount, rel=0.02)


def test_every_draw_is_an_edge_in_the_order_of_time(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        edges = read_chain(session).edges
    assert len(edges) == 11
    assert [edge.at for edge in edges] == sorted(edge.at for edge in edges)
