"""The steps from sugar to bottle hold what the records say, the losses charged to what was kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from sqlalchemy import select, update
from sqlalchemy.orm import aliased

from kiosk.production.lineage.chain import Upstream, read_upstream
from kiosk.production.lineage.provenance import proportions, trace_provenance
from kiosk.production.records.recording import ImportReport
from kiosk.store.engine import Store
from kiosk.store.tables import production as t
from tests.production.lineage.estate import bottled
from tests.production.live.conftest import MORNING, YEAR, Books

Take = Callable[..., ImportReport]


def test_a_lot_bears_its_part_of_each_step(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite()
    with sqlite_store.read() as session:
        lot = int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)
        found = read_upstream(session, lot)
        hearts_ml = session.scalar(select(t.receivers.c.alcohol_ml).where(t.receivers.c.cut == "hearts"))
        told = proportions(found)
    assert told is not None
    assert hearts_ml
    # By hand: 11.5 L of the hearts gauged, which are 108 L of the 136.9 L that the run gave.
    part = 11.5 / max(hearts_ml / 1000, 107.5) * 108 / 136.9
    assert told.cane_kg == pytest.approx(3000 * part, rel=1e-6)
    assert told.possible == pytest.approx(289 * 0.682 * part, rel=1e-6)
    assert told.fermented == pytest.approx(148 * part, rel=1e-6)
    assert (told.hearts, told.bought, told.bottled) == pytest.approx((11.5, 0.0, 11.5))


def test_nothing_is_told_where_a_step_is_not_recorded(take_sqlite: Take, sqlite_store: Store) -> None:
    take_sqlite(("draws.csv", "load,L-1,wash,W-1,2026-06-01 10:00,,289,,1700\n", ""))
    with sqlite_store.read() as session:
        lot = int(session.scalar(select(t.batches.c.id).where(t.batches.c.code == "BL-1")) or 0)
        assert proportions(read_upstream(session, lot)) is None


def read(books: Books, lot: int) -> Upstream:
    with books.store.read() as session:
        return read_upstream(session, lot)


def test_each_batch_has_the_share_that_passed_through_it(books: Books) -> None:
    found = trace_provenance(read(books, bottled(books)), books.site.zone)
    shares = {part.code: part.share for parts in found.parts.values() for part in parts}
    assert shares == pytest.approx(
        {
            "HILL": 0.6,
            "VEGA": 0.2,
            "L-1": 0.6,
            "L-2": 0.2,
            "W-1": 0.8,
            "WR-1": 0.8,
            "SR-1": 0.8,
            "WR-1-LW": 0.8,
            "SR-1-HT": 0.8,
            "SP-1": 0.2,
            "F-1": 0.4,
            "F-2": 0.4,
        }
    )
    assert [part.code for part in found.of("run")] == ["WR-1", "SR-1"]
    assert (found.of("attic"), found.earlier, found.known) == ((), 0.0, True)
    assert sorted(found.drawn_from.values()) == pytest.approx([0.4, 0.4])
    assert [part.code for part in found.bought] == ["SP-1"]
    assert found.added == ()


def test_spirit_moved_from_cask_to_cask_left_the_casks_once(books: Books) -> None:
    lot, first = books.lot("AN-1", date(2026, 6, 15), 300), books.fill(1, MORNING - 2 * YEAR, {0: 60})
    second = books.fill(2, MORNING - YEAR, {0: 50})
    books.draw(first, second, 50, at=MORNING - YEAR)
    books.draw(second, lot, 40, at=MORNING)
    found = trace_provenance(read(books, lot), books.site.zone)
    assert found.drawn_from == {second: pytest.approx(1.0)}
    assert [part.share for part in found.of("fill")] == pytest.approx([1.0, 1.0])
    assert found.age.years == 2


def test_an_addition_without_alcohol_is_no_spirit_from_elsewhere(books: Books) -> None:
    lot = bottled(books)
    values = {"kind": "fruit", "what": "ginger root", "received_on": date(2026, 6, 2)}
    books.draw(books.batch(t.received, "received", "GIN-1", **values), lot, 0, at=MORNING)
    found = trace_provenance(read(books, lot), books.site.zone)
    assert [(part.code, part.share) for part in found.added] == [("GIN-1", 0.0)]
    assert [part.code for part in found.bought] == ["SP-1"]


def test_a_lot_alone_has_no_provenance(books: Books) -> None:
    lot = books.lot("AN-1", date(2026, 6, 15), 300)
    assert not trace_provenance(read(books, lot), books.site.zone).known
    assert proportions(read(books, lot)) is None


def test_losses_are_borne_by_what_was_kept(books: Books) -> None:
    """Of 160 L that the spirit run gave, 120 L are hearts: the lot bears three quarters of all before."""
    steps = proportions(read(books, bottled(books)))
    assert steps is not None
    assert (steps.cane_kg, steps.possible, steps.fermented) == pytest.approx((3000, 400 * 0.682 * 0.75, 165))
    assert (steps.hearts, steps.bought, steps.bottled) == pytest.approx((120, 20, 100))


def test_what_was_destroyed_is_borne_by_the_rest(books: Books) -> None:
    lot = bottled(books)
    with books.store.write() as session:
        session.execute(update(t.receivers).where(t.receivers.c.cut == "tails").values(fate="destroyed"))
    steps = proportions(read(books, lot))
    assert steps is not None
    assert (steps.cane_kg, steps.fermented) == pytest.approx((4000, 220))


def test_what_a_receiver_still_holds_bears_its_own_part(books: Books) -> None:
    lot = bottled(books)
    with books.store.write() as session:
        session.execute(update(t.receivers).where(t.receivers.c.cut == "hearts").values(alcohol_ml=150_000))
    steps = proportions(read(books, lot))
    assert steps is not None
    assert (steps.cane_kg, steps.fermented) == pytest.approx((3000 * 0.8, 165 * 0.8))


def test_a_cask_that_is_not_empty_leaves_the_steps_unknown(books: Books) -> None:
    assert proportions(read(books, bottled(books, emptied=False))) is None


@pytest.mark.parametrize(
    ("kinds", "litres", "known"),
    [
        (("wash", "run"), 273, False),  # more than the sugar of 400 kg could give: 272.8 L
        (("wash", "run"), 272, True),
        (("wash", "run"), 159, False),  # less than the 160 L that the run gave
        (("fill", "lot"), 61, False),  # more bottled than 120 L of hearts and 20 L received
        (("fill", "lot"), 60, True),
    ],
)
def test_a_step_that_gives_more_than_it_was_given_leaves_them_unknown(
    books: Books, kinds: tuple[str, str], litres: int, known: bool
) -> None:
    lot = bottled(books)
    into, out = aliased(t.batches), aliased(t.batches)
    drawn = (
        select(t.draws.c.id)
        .join(out, out.c.id == t.draws.c.from_id)
        .join(into, into.c.id == t.draws.c.to_id)
        .where(out.c.kind == kinds[0], into.c.kind == kinds[1])
    )
    with books.store.write() as session:
        ids = session.scalars(drawn).all()
        session.execute(update(t.draws).where(t.draws.c.id.in_(ids)).values(amount=litres * 1000))
    assert (proportions(read(books, lot)) is not None) is known
