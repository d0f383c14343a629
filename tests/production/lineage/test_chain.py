"""Draws are read in as many queries at any depth, with what each batch was measured to hold."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from sqlalchemy import event, insert, select, update

from kiosk.figures.making import gravity_at_20 as figure_at_20
from kiosk.figures.making import specific_gravity, wash_abv_percent
from kiosk.production.lineage.chain import (
    alcohol_of_wash_ml,
    gravity_at_20,
    juice_kg,
    read_around,
    read_chain,
    read_edges,
    read_upstream,
    sugar_g,
)
from kiosk.production.lineage.provenance import trace_provenance
from kiosk.production.records.recording import ImportReport
from kiosk.site.settings import Site
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.lineage.estate import bottled
from tests.production.live.conftest import MORNING, Books, hours

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


def lot_id(store: Store) -> int:
    with store.read() as session:
        return int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)


def deeper(store: Store, batch: int, by: int, now: datetime) -> int:
    """Draw a batch through as many more vats, one after another, and return the last."""
    with store.write() as session:
        for step in range(by):
            new = session.execute(insert(t.batches).values(kind="blend", code=f"V-{step}"))
            following = new.inserted_primary_key[0]
            vat = {"id": following, "made_at": now, "volume_ml": 30_000, "alcohol_ml": 11_500}
            session.execute(insert(t.blends).values(**vat, recorded_at=now, source="test", revision=1))
            drawn = {
                "from_id": batch,
                "to_id": following,
                "at": now,
                "measure": "alcohol_ml",
                "amount": 11_500,
            }
            session.execute(insert(t.draws).values(**drawn, recorded_at=now, source="test", revision=1))
            batch = following
    return batch


def counted(store: Store, batch: int) -> tuple[int, int]:
    """Return how many queries were asked for what stands behind a batch, and how many draws came."""
    asked: list[str] = []
    with store.read() as session:
        engine = session.get_bind().engine

        def note(connection: object, cursor: object, statement: str, *more: object) -> None:
            asked.append(statement)

        event.listen(engine, "before_cursor_execute", note)
        try:
            found = read_upstream(session, batch)
        finally:
            event.remove(engine, "before_cursor_execute", note)
    return len([one for one in asked if one.lstrip().startswith(("SELECT", "WITH"))]), len(found.edges)


def test_as_many_queries_are_asked_of_a_deep_lot_as_of_a_shallow_one(
    take: Take, store: Store, now: datetime
) -> None:
    take()
    shallow = lot_id(store)
    few, drawn = counted(store, shallow)
    deep, more_drawn = counted(store, deeper(store, shallow, 30, now))
    assert more_drawn == drawn + 30
    assert deep == few == 10


def test_draws_towards_other_batches_are_left_aside(take: Take, store: Store) -> None:
    take()
    with store.read() as session:
        fill = session.scalar(select(t.fills.c.id))
        edges = read_edges(session, lot_id(store))
    assert len(edges) == 7
    assert fill not in {one for edge in edges for one in (edge.from_id, edge.to_id)}


def test_a_loop_in_the_draws_ends_the_reading(take_sqlite: Take, sqlite_store: Store, now: datetime) -> None:
    take_sqlite()
    batch = lot_id(sqlite_store)
    last = deeper(sqlite_store, batch, 3, now)
    with sqlite_store.write() as session:
        drawn = {"from_id": last, "to_id": batch, "at": now, "measure": "alcohol_ml", "amount": 1}
        session.execute(insert(t.draws).values(**drawn, recorded_at=now, source="test", revision=1))
    with sqlite_store.read() as session:
        assert len(read_edges(session, batch)) == 11


@pytest.mark.parametrize(
    ("kind", "codes"), [("field", ["HILL"]), ("load", ["L-1"]), ("run", ["WR-1", "SR-1"]), ("fill", [])]
)
def test_the_whole_of_a_lot_passed_through_each_step(
    take_sqlite: Take, sqlite_store: Store, site: Site, kind: str, codes: list[str]
) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        found = trace_provenance(read_upstream(session, lot_id(sqlite_store)), site.zone)
    assert [part.code for part in found.of(kind)] == codes
    assert all(part.share == pytest.approx(1.0) for part in found.of(kind))
    assert found.age.years == 0


def test_juice_is_weighed_by_its_brix_and_all_that_brix_measures_counts_as_sugar() -> None:
    kg = 1_700 * specific_gravity(16.0) * 0.9982
    assert juice_kg(1_700_000, 1600) == pytest.approx(kg, rel=1e-12)
    assert sugar_g(1_700_000, 16.0) == pytest.approx(kg * 160, rel=1e-12)
    assert sugar_g(1_700_000, 16.25) == pytest.approx(juice_kg(1_700_000, 1625) * 162.5, rel=1e-12)


def test_a_gravity_without_its_temperature_was_read_at_20_degrees() -> None:
    assert gravity_at_20(10630, None) == gravity_at_20(10630, 20_000) == pytest.approx(1.0630, abs=1e-9)
    assert gravity_at_20(10630, 30_000) == figure_at_20(1.0630, 30.0)


def test_a_wash_holds_the_alcohol_between_its_first_and_its_last_gravity() -> None:
    percent = wash_abv_percent(1.0630, 0.9960)
    assert alcohol_of_wash_ml(1_700_000, [1.0630, 1.0300, 0.9960]) == pytest.approx(17_000 * percent)


def test_a_wash_of_one_gravity_holds_nothing_known(books: Books) -> None:
    wash = books.wash("W-1", "T1", MORNING)
    books.gravity(wash, MORNING, 1.0630)
    with books.store.read() as session:
        assert read_chain(session).holds == {}
    books.gravity(wash, MORNING + hours(8), 1.0430)
    with books.store.read() as session:
        assert read_chain(session).holds[wash, "alcohol_ml"] > 0


def test_a_chain_around_batches_holds_their_draws_and_all_upstream_and_no_more(books: Books) -> None:
    lot = bottled(books)
    with books.store.read() as session:
        whole, hearts = (
            read_chain(session),
            session.scalar(select(t.receivers.c.id).where(t.receivers.c.cut == "hearts")),
        )
        assert hearts is not None
        around = read_around(session, [hearts])
    names = {code for _kind, code in around.names.values()}
    assert names == {"HILL", "VEGA", "L-1", "L-2", "W-1", "WR-1", "WR-1-LW", "SR-1", "SR-1-HT", "F-1", "F-2"}
    assert {edge.id for edge in around.edges} < {edge.id for edge in whole.edges}
    assert around.holds[hearts, "alcohol_ml"] == whole.holds[hearts, "alcohol_ml"] == 120_000
    assert (lot, "alcohol_ml") not in whole.holds


def test_what_was_drawn_out_of_a_batch_counts_but_for_what_was_destroyed(books: Books) -> None:
    lot = bottled(books)
    with books.store.read() as session:
        upstream = read_upstream(session, lot)
    (run,) = (row.id for row in upstream.rows["run"].values() if row.code == "SR-1")
    assert upstream.given[run] == 160_000
    assert upstream.row("run", run).vessel == "spirit still"
    with pytest.raises(KeyError):
        upstream.row("fill", run)
    with books.store.write() as session:
        session.execute(update(t.receivers).where(t.receivers.c.cut == "tails").values(fate="destroyed"))
    with books.store.read() as session:
        assert read_upstream(session, lot).given[run] == 120_000


def test_a_wash_whose_gravity_rose_a_hair_holds_nothing_yet(books: Books) -> None:
    assert alcohol_of_wash_ml(1_700_000, [1.0600, 1.0601]) == 0.0
    wash = books.wash("W-1", "T1", MORNING)
    for n, gravity in enumerate((1.0600, 1.0601)):
        books.gravity(wash, MORNING + hours(n), gravity)
    with books.store.read() as session:
        assert read_chain(session).holds[wash, "alcohol_ml"] == 0.0
